"""The page's look: dark or light as the reader's device has it, light on A4 paper. Colours are Okabe and Ito's (Color
Universal Design, 2008), darkened on the light ground and lightened on the dark one until text on it reads."""

LIGHT = """--ground: #ffffff; --card: #f3f5f6; --line: #9aa5ae; --text: #14181b; --quiet: #4b565f;
  --good: #00674a; --band: #d5eee4; --water: #00558c; --warn: #a83c00; --next: #8a5a00;"""
DARK = """--ground: #101417; --card: #1b2126; --line: #5a6671; --text: #f4f6f7; --quiet: #b7c0c8;
  --good: #2cc295; --band: #14382f; --water: #56b4e9; --warn: #ff9a66; --next: #e69f00;"""
STYLE = f"""
:root {{ color-scheme: light dark; {LIGHT} }}
@media (prefers-color-scheme: dark) {{ :root {{ {DARK} }} }}
* {{ box-sizing: border-box; }}
body {{ margin: 0 auto; padding: 1.5rem; max-width: 62rem; background: var(--ground); color: var(--text);
  font: 1rem/1.5 system-ui, "DejaVu Sans", sans-serif; }}
h1 {{ font-size: 1.6rem; margin: 0; }}
h2 {{ font-size: 1.25rem; margin: 2rem 0 .5rem; border-top: 2px solid var(--line); padding-top: .6rem; }}
h3 {{ font-size: 1rem; margin: 1.2rem 0 .3rem; }}
a {{ color: var(--water); }}
.day {{ color: var(--quiet); margin: 0 0 1rem; }}
.lede {{ font-size: 1.2rem; font-weight: 600; margin: 0 0 1rem; }}
.things {{ padding-left: 1.4rem; }}
.things li {{ margin-bottom: .6rem; }}
.things strong {{ display: block; }}
.shots, .note {{ color: var(--quiet); font-size: .875rem; }}
summary {{ cursor: pointer; color: var(--water); white-space: nowrap; }}
.hours {{ list-style: none; padding: 0; margin: .3rem 0; display: grid; gap: .2rem 1rem;
  grid-template-columns: repeat(auto-fill, minmax(14rem, 1fr)); }}
.hours li {{ border-bottom: 1px solid var(--line); }}
.hours b {{ display: inline-block; min-width: 4rem; font-weight: 400; color: var(--quiet); }}
.wide {{ overflow-x: auto; }}
table {{ border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; margin: .3rem 0; }}
caption, figcaption {{ text-align: left; color: var(--quiet); font-size: .875rem; }}
th, td {{ text-align: left; vertical-align: top; padding: .2rem .6rem .2rem 0; font-weight: 400;
  border-bottom: 1px solid var(--line); }}
thead th {{ color: var(--quiet); font-size: .875rem; vertical-align: bottom; }}
td.n, th.n {{ text-align: right; }}
.narrow tbody th {{ white-space: nowrap; }}
.broad tbody th {{ width: 40%; }}
figure {{ margin: .5rem 0; }}
:target {{ background: var(--card); outline: 2px solid var(--next); }}
svg {{ width: 100%; height: auto; display: block; background: var(--ground);
  font: 13px system-ui, "DejaVu Sans", sans-serif; }}
svg text {{ fill: var(--text); }}
svg .quiet {{ fill: var(--quiet); }}
svg .band {{ fill: var(--band); }}
svg .grid {{ stroke: var(--line); stroke-width: .6; }}
svg .zero {{ stroke: var(--good); stroke-width: 1.4; }}
svg .level {{ stroke: var(--text); stroke-width: 2; }}
svg .limit {{ stroke: var(--text); stroke-width: 1; stroke-dasharray: 5 4; }}
svg .told {{ fill: var(--water); }}
svg .slip {{ fill: none; stroke: var(--water); stroke-width: 1.3; }}
svg .sink {{ stroke: var(--warn); stroke-width: 2; fill: none; }}
svg .notch {{ stroke: var(--next); stroke-width: 1.6; }}
svg .flag {{ fill: var(--warn); }}
svg .purge-bar {{ fill: var(--water); }}
svg .sink-bar {{ stroke: var(--warn); stroke-dasharray: 3 2; }}
svg .over-bar {{ fill: none; stroke: var(--text); stroke-width: 1; }}
svg .purge {{ fill: var(--next); }}
svg .mark {{ fill: var(--quiet); }}
svg .curve {{ stroke: var(--water); stroke-width: 2; fill: none; }}
.trace {{ max-width: 26rem; }}
@page {{ size: A4; margin: 14mm; }}
@media print {{
  :root {{ color-scheme: light; {LIGHT} }}
  html {{ font-size: 9.5pt; }}
  body {{ padding: 0; max-width: none; }}
  h2 {{ margin-top: 1.2rem; }}
  th, td {{ padding-top: .1rem; padding-bottom: .1rem; }}
  td {{ white-space: nowrap; }}
  .broad td, td:last-child {{ white-space: normal; }}
  .wide {{ overflow: visible; }}
  .shots, .every {{ display: none; }}
  a {{ color: inherit; text-decoration: none; }}
  h2, h3, caption, thead, figure {{ break-after: avoid; }}
  figure, tr, li, .broad, .hours {{ break-inside: avoid; }}
  tbody tr:nth-child(-n+3) {{ break-after: avoid; }}
  tbody tr:nth-last-child(-n+3) {{ break-before: avoid; }}
  footer {{ break-before: avoid; }}
  .bar {{ break-before: page; }}
  * {{ print-color-adjust: exact; }}
}}
"""
