"""Style of the bench: large buttons for oily fingers, and the log.

Each kind of button has a column of its own, and the message room next to the journal's, so
that no button ever moves under a finger.
"""

from __future__ import annotations

from blendkit.showing.kit.look import ACCENT, ALERT, FAINT_INK, NOTE_COLOURS, PAPER, RULE

CHIPS = "".join(
    f".bk-chip-{note} {{ background: {colour}; }} " for note, colour in NOTE_COLOURS.items()
)
STYLE = f"""<style>
.bk-state {{ display: flex; flex-flow: row wrap; gap: 4px 14px; align-items: flex-start;
  align-content: flex-start; min-height: 130px; margin-top: 8px; }}
.bk-state > .widget-vbox {{ flex: 1 1 220px; }}
.bk-state > .widget-html {{ flex: 2 1 380px; }}
.bk-state, .bk-state > .widget-box {{ overflow: visible; }}
.bk-state button.bk-big {{ height: auto; min-height: 46px; line-height: 1.25;
  white-space: normal; }}
.bk-columns > .bk-tray {{ flex: 1 1 476px; max-width: 540px; min-width: 330px; }}
.bk-tray, .bk-tray .widget-box {{ overflow: visible; }}
.bk-tray .widget-box.bk-scroll {{ max-height: 300px; overflow: auto; }}
.bk-tray .bk-row {{ display: grid; border-bottom: 1px solid {RULE}; padding: 3px 0;
  grid-template-columns: minmax(112px, 1fr) 116px 78px 62px 56px; align-items: center;
  flex: 0 0 auto; min-height: 54px; }}
.bk-row > .widget-html {{ grid-column: 1; height: auto; }}
.bk-row.bk-poured > .widget-html {{ grid-column: 1 / 4; }}
.bk-row > .bk-tap {{ grid-column: 2; }}
.bk-row > .bk-rest {{ grid-column: 3; }}
.bk-row > .widget-text {{ grid-column: 4; }}
.bk-row > .bk-pour {{ grid-column: 5; }}
.bk-row > button {{ padding: 0 3px; }}
.bk-chip {{ float: left; width: 12px; height: 34px; border-radius: 3px;
  border: 1px solid {FAINT_INK}; margin: 1px 8px 0 0; }}
.bk-name {{ display: block; margin-left: 22px; }}
{CHIPS}
.bk-in {{ font-variant-numeric: tabular-nums; color: {FAINT_INK}; font-size: 13px; }}
.bk-in > * {{ display: inline-block; margin-right: 5px; }}
.bk-row .widget-html-content {{ line-height: 1.25; overflow-wrap: anywhere; }}
.bk-panel button.bk-tap {{ height: 46px; font-size: 17px; font-weight: 600;
  background: {ACCENT}; color: {PAPER}; border-radius: 8px; }}
.bk-panel button.bk-tap.bk-warned {{ background: {PAPER}; color: {ALERT};
  border: 2px solid {ALERT}; font-size: 15px; }}
.bk-panel button.bk-big {{ height: 46px; font-size: 15px; border-radius: 8px; }}
.bk-panel .bk-bottle th, .bk-panel .bk-bottle td {{ overflow-wrap: normal;
  padding-right: 8px; }}
.bk-panel .bk-bottle th:nth-child(n+2), .bk-panel .bk-bottle td:nth-child(n+2)
  {{ text-align: right; }}
.bk-panel .bk-bottle td:nth-child(n+2) {{ white-space: nowrap; }}
.bk-log {{ list-style: none; margin: 4px 0; padding: 0; line-height: 1.45; }}
.bk-log li {{ border-bottom: 1px solid {RULE}; padding: 2px 0 2px 100px; text-indent: -100px;
  overflow-wrap: anywhere; }}
.bk-log li > * {{ text-indent: 0; }}
.bk-when {{ color: {FAINT_INK}; font-variant-numeric: tabular-nums; font-size: 13px;
  display: inline-block; width: 96px; }}
.bk-gone .bk-what {{ text-decoration: line-through; color: {FAINT_INK}; }}
.bk-note {{ display: block; color: {FAINT_INK}; font-size: 13px; }}
</style>"""
