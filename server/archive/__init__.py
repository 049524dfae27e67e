"""The whole record in one file, and back.

layout.py   what lies in the archive under which name; its README; its limits
values.py   a row as JSON and as a line of a table for spreadsheets
writing.py  the record into an archive
checking.py an archive looked through before anything of it is used
reading.py  a checked archive into an empty record
"""
