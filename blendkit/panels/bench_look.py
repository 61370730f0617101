"""How the bench looks: targets for oily fingers, and a log that reads like one."""

from __future__ import annotations

from blendkit.showing.look import ACCENT, ALERT, FAINT_INK, NOTE_COLOURS, PAPER, RULE

CHIPS = "".join(
    f".bk-chip-{note} {{ background: {colour}; }} " for note, colour in NOTE_COLOURS.items()
)
STYLE = f"""<style>
.bk-tray {{ flex: 1 1 430px; max-width: 500px; min-width: 330px; }}
.bk-tray, .bk-tray .widget-box {{ overflow: visible; }}
.bk-tray .widget-box.bk-scroll {{ max-height: 300px; overflow: auto; }}
.bk-tray .bk-row {{ border-bottom: 1px solid {RULE}; padding: 3px 0; align-items: center;
  flex: 0 0 auto; min-height: 54px; }}
.bk-row > .widget-html {{ flex: 1 1 112px; min-width: 112px; height: auto; }}
.bk-chip {{ float: left; width: 12px; height: 34px; border-radius: 3px;
  border: 1px solid {FAINT_INK}; margin: 1px 8px 0 0; }}
.bk-name {{ display: block; margin-left: 22px; }}
{CHIPS}
.bk-in {{ font-variant-numeric: tabular-nums; color: {FAINT_INK}; font-size: 13px; }}
.bk-row .widget-html-content {{ line-height: 1.25; overflow-wrap: anywhere; }}
.bk-panel button.bk-tap {{ height: 46px; min-width: 104px; font-size: 17px; font-weight: 600;
  background: {ACCENT}; color: {PAPER}; border-radius: 8px; }}
.bk-panel button.bk-tap.bk-warned {{ background: {PAPER}; color: {ALERT};
  border: 2px solid {ALERT}; }}
.bk-panel button.bk-big {{ height: 46px; font-size: 15px; border-radius: 8px; }}
.bk-panel .bk-bottle th, .bk-panel .bk-bottle td {{ overflow-wrap: normal;
  padding-right: 8px; }}
.bk-panel .bk-bottle th:nth-child(n+2), .bk-panel .bk-bottle td:nth-child(n+2)
  {{ text-align: right; }}
.bk-panel .bk-bottle td:nth-child(n+2) {{ white-space: nowrap; }}
.bk-log {{ list-style: none; margin: 4px 0; padding: 0; line-height: 1.45; }}
.bk-log li {{ border-bottom: 1px solid {RULE}; padding: 2px 0; overflow-wrap: anywhere; }}
.bk-when {{ color: {FAINT_INK}; font-variant-numeric: tabular-nums; font-size: 13px;
  display: inline-block; min-width: 96px; }}
.bk-gone .bk-what {{ text-decoration: line-through; color: {FAINT_INK}; }}
.bk-said {{ display: block; margin-left: 96px; color: {FAINT_INK}; font-size: 13px; }}
</style>"""
