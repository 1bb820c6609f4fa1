"""What all panels are made of: controls, pictures, drawn shapes, messages."""
