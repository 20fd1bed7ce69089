"""What changes from one front to another: lines, face, leg zone, zones, findings, contours."""
