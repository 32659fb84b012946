"""The catalogues of what the kiosk says, one folder a language: `evenpull.po` to translate in, `evenpull.mo` to run.

`python -m assets.languages` gathers the texts from the code, puts new ones into every `.po`, takes out those no longer
said, and makes the `.mo` anew.

Another language: make its folder with an empty `evenpull.po`, run the command, translate, run it again, and name it in
`kiosk.languages.LANGUAGES`.
"""
