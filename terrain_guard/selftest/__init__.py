"""The program, proved on this machine: closed-form cases, end to end, offline.

Nothing is stubbed: invented terrain is written as GeoTIFF, routes and rules as
TOML, and the whole program is asked. What should come out is a formula.

Reading order: `models` (terrain whose height is a formula), `scenes` (a route over
it), `cases` (what is compared), then the cases themselves: `slopes`, `zeros`, `shapes`,
`flown`, `unknown`; `running` and `telling`.
"""
