"""Write: pictures, films, pages and stitch files, whole or not at all."""
