"""What JupyterLab and Voila need of the course."""
