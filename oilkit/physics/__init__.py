"""What the lessons derive, in lesson order."""
