"""The style sheet of the own report. Colours come in pairs for light and dark; inks pass 4.5:1 on every paper.

In the dark each colour of a drawing is exchanged for its counterpart; on paper everything is black on white.
"""

from pooling.report.drawing import PALETTE

_DARK = {"hue": "#8fbddb", "ink": "#e9e6df", "quiet": "#aeb2b9", "grid": "#3b3f46"}

_BASE = """
:root { color-scheme: light dark; --paper: #fbfaf7; --ink: #1c1c1c; --soft: #5a5a5a; --rule: #d5d1c8;
  --notice: #f3ead7; --edge: #b58a2e; }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink); font: 1rem/1.55 system-ui, "Noto Sans", sans-serif; }
main { max-width: 60rem; margin: 0 auto; padding: 1rem .6rem 3rem; }
h1 { font-size: 1.6rem; line-height: 1.2; margin: .2rem 0; }
h2 { font-size: 1.2rem; line-height: 1.25; margin: 2.2rem 0 .5rem; }
p, ul { max-width: 44rem; margin: .5rem 0; }
ul { padding-left: 1.2rem; } li { margin: .35rem 0; }
.soft, .note, figcaption { color: var(--soft); } .note, figcaption { font-size: .9rem; }
.caution { background: var(--notice); border-left: .35rem solid var(--edge); padding: .3rem .8rem; margin: 1rem 0; }
.caution h2 { margin-top: .4rem; }
.lead li { font-size: 1.08rem; }
figure { margin: .6rem 0; }
.beside { display: grid; grid-template-columns: minmax(0, 1fr); gap: .4rem 1.6rem; }
.plot svg { display: block; max-width: 100%; height: auto; }
.table { overflow-x: auto; }
table { border-collapse: collapse; font-size: .92rem; margin: .6rem 0; }
caption { text-align: left; font-weight: 600; padding: .3rem 0; }
th, td { text-align: left; vertical-align: top; padding: .3rem .9rem .3rem 0; border-bottom: 1px solid var(--rule); }
th:last-child, td:last-child { padding-right: 0; }
thead th { color: var(--soft); font-weight: 400; }
tbody th { font-weight: 400; }
td { font-variant-numeric: tabular-nums; }
@media (min-width: 46rem) { main { padding-inline: 1.2rem; } .beside { grid-template-columns: 21rem minmax(0, 1fr); } }
"""
_PRINT = """
@media print { :root { color-scheme: light; --paper: #fff; --ink: #000; --soft: #333; --rule: #999; --notice: #fff; }
  body { font-size: 10pt; } main { max-width: none; padding: 0; } figure, table, .caution { break-inside: avoid; }
  h2 { break-after: avoid; } .beside { grid-template-columns: 21rem minmax(0, 1fr); } }
"""


def _exchanged() -> str:
    return "\n".join(
        f'.plot [{paint}="{light}"] {{ {paint}: {_DARK[name]}; }}'
        for name, light in PALETTE.items()
        for paint in ("fill", "stroke")
    )


STYLE = f"""{_BASE}@media screen and (prefers-color-scheme: dark) {{
:root {{ --paper: #17191d; --ink: #e9e6df; --soft: #aeb2b9; --rule: #3b3f46; --notice: #2d2718; --edge: #c79c42; }}
{_exchanged()}
}}{_PRINT}"""
