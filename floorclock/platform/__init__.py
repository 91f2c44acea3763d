"""What operating systems do differently, behind one module."""
