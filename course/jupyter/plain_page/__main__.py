"""`python -m course.jupyter.plain_page FOLDER [OPTIONS]`: serve the lessons of a folder until it is stopped."""

from .server import PlainPage

if __name__ == "__main__":
    PlainPage.launch_instance()
