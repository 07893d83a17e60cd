"""A small digitizer: shapes in millimetres become parts of stitches, and parts a stitch file.

Coordinates are mm, x right, y down. A part is a run of needle points of one kind; `sewing`
joins parts with ties, trims and changes of thread and keeps account of what was meant.
"""
