"""What each part of a page shows."""
