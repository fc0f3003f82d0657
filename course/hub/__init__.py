"""A room full of learners: one JupyterHub for a class, with nbgrader's exchange and the instructor's desk."""
