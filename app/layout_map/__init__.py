"""The map of layouts of a construct: every way to fill its plate's holes, with every figure and what the rules say.

`filling` says which holes may be filled and with what, `counting` judges all layouts by the rules that count, `table`
puts both beside the mechanics, and `document` writes it down. numpy loads with `counting`: import it where it is used.
"""
