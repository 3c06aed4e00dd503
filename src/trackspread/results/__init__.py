"""The result as files, and read back: `schema` is the table of fields that all of them come from.

`document` is result.json and `saved` reads it, `arrays` are the figures in full, `tables` and `csv` the
tables, `layers` the GeoPackage, `frames` what notebooks get. `words` make every sentence, `rounding` every
figure that people read; `lines` and `places` say where things lie.
"""
