"""`python -m course.plain_page FOLDER [OPTIONS]`: serve the lessons of a folder until it is stopped."""

from course.plain_page.server import PlainPage

if __name__ == "__main__":
    PlainPage.launch_instance()
