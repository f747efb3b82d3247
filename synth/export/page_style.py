"""The look of a page: one quiet column, tables that fit paper, print rules."""

STYLE = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { margin: 0; background: #f4f4f2; color: #1d1d1f;
  font: 15px/1.5 "Helvetica Neue", Helvetica, Arial, "Liberation Sans", sans-serif; }
main { max-width: 1040px; margin: 24px auto; padding: 36px 48px 48px; background: #fff; border: 1px solid #e3e3df; }
.kind { margin: 0; color: #5c5c61; font-size: 13px; letter-spacing: .04em; text-transform: uppercase; }
h1 { margin: 2px 0 8px; font-size: 27px; line-height: 1.2; font-weight: 600; }
h2 { margin: 40px 0 10px; padding-top: 14px; border-top: 2px solid #1d1d1f; font-size: 19px; font-weight: 600; }
h3 { margin: 22px 0 6px; font-size: 15px; font-weight: 600; }
p { margin: 6px 0 10px; max-width: 100ch; }
ul { margin: 6px 0 10px; padding-left: 20px; max-width: 110ch; }
li { margin: 4px 0; }
.caution { max-width: none; margin: 14px 0 0; padding: 9px 14px; border-left: 4px solid #d55e00; background: #fdf3ec; }
.note, figcaption { color: #5c5c61; font-size: 13px; }
figure { margin: 14px 0 16px; }
figure svg { display: block; width: 100%; height: auto; }
figcaption { margin-top: 4px; max-width: 110ch; }
table { width: 100%; margin: 8px 0 12px; border-collapse: collapse; font-size: 12.5px; line-height: 1.35; }
th { padding: 5px 8px 5px 0; border-bottom: 1px solid #1d1d1f; text-align: left; vertical-align: bottom;
  font-weight: 600; }
td { padding: 3px 8px 3px 0; border-bottom: 1px solid #e8e8e4; vertical-align: top; overflow-wrap: break-word; }
th.n, td.n { text-align: right; font-variant-numeric: tabular-nums; overflow-wrap: normal; }
@media (max-width: 700px) {
  main { margin: 0; padding: 20px 16px; border: 0; }
  table { display: block; overflow-x: auto; }
}
@page { size: A4; margin: 15mm 14mm; }
@media print {
  body { background: #fff; font-size: 10pt; }
  main { max-width: none; margin: 0; padding: 0; border: 0; }
  h1 { font-size: 18pt; } h2 { font-size: 13pt; margin-top: 20pt; } h2, h3 { break-after: avoid; }
  figure, tr, .caution, .findings { break-inside: avoid; }
  table { font-size: 8pt; } thead { display: table-header-group; }
  * { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
}
"""
