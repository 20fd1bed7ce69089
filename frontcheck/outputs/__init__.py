"""What people read: figures, pages, documents and exported files."""
