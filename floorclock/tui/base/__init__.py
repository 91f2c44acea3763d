"""What all screens are painted with: lines, palette, digits, the guarded terminal driver."""
