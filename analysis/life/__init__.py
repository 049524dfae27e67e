"""How long parts last: survival curves, comparisons of groups and Weibull fits, with parts that haven't failed.

Ages are numbers above 0 in whatever unit the caller keeps to; the logbook gives days in service.
"""
