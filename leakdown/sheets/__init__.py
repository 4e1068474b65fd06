"""Blank reading sheets: to print (HTML), or as CSV to fill in, which `analyse` reads back as it is."""
