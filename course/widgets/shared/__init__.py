"""What every widget needs: its front end put together, its base class, numbers as people type them."""
