"""The catalogues of what the kiosk says, one folder a language: `evenpull.po` to translate in, `evenpull.mo` to run.

`python -m assets.languages` gathers the texts from the code, puts new ones into every `.po`, takes out those no longer
said, and makes the `.mo` anew.
"""
