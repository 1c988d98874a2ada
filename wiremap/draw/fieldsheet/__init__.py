"""The field sheet: forms to print and fill in by hand, and a page that says how.

`document.draw_field_sheet` gives the PDF.
"""
