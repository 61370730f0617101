"""Style sheet of every panel, which each panel brings along."""

from __future__ import annotations

from blendkit.showing.kit.look import ACCENT, ALERT, CAUTION, FAINT_INK, FONT, INK, PAPER, RULE

STALE = "bk-stale"

STYLE = f"""<style>
.bk-panel {{ max-width: 1180px; color: {INK}; font-family: {FONT}; background: {PAPER};
  border: 1px solid {RULE}; border-radius: 10px; padding: 14px 18px; overflow: visible; }}
.bk-panel {{ color-scheme: light; --jp-widgets-input-background-color: #fff;
  --jp-widgets-input-color: {INK}; --jp-widgets-color: {INK}; --jp-ui-font-color1: {INK};
  --jp-widgets-input-border-color: {RULE}; --jp-widgets-label-color: {INK};
  --jp-layout-color2: #efe9de; --jp-widgets-slider-track-color: {RULE};
  --jp-layout-color1: #fff; --jp-ui-font-color3: {FAINT_INK};
  --jp-border-color1: {RULE}; --jp-layout-color3: {RULE}; }}
.bk-panel .widget-label, .bk-panel .widget-html-content {{ font-size: 14px; color: {INK}; }}
.bk-notebooks {{ display: flex; flex-flow: row wrap; margin: -6px -10px 0; }}
.bk-notebooks a {{ padding: 11px 10px; color: {INK}; line-height: 22px;
  text-decoration: underline; }}
.bk-notebooks a[aria-current=page] {{ font-weight: 600; text-decoration: none; }}
.bk-panel h3 {{ margin: 10px 0 2px; font-size: 15px; font-weight: 600; }}
.bk-panel .widget-html-content p {{ margin: 4px 0; line-height: 1.4; }}
.bk-panel .bk-faint {{ color: {FAINT_INK}; margin: 4px 0; line-height: 1.35; }}
.bk-panel .widget-hbox, .bk-panel .lm-TabBar-content {{ flex-wrap: wrap; }}
.bk-panel .lm-TabBar, .bk-panel .lm-TabBar-content {{ height: auto; max-width: 100%; }}
.bk-panel .widget-tab > .lm-TabBar .lm-TabBar-tab {{ flex: 0 0 auto; min-width: 60px;
  background: none; color: {INK}; border-color: {RULE};
  font: 14px/24px {FONT}; }}
.bk-panel .widget-tab .lm-TabBar-tab.lm-mod-current {{ font-weight: 600; }}
.bk-panel .widget-tab > .lm-TabBar .lm-TabBar-tab.lm-mod-current::before
  {{ background: {ACCENT}; }}
.bk-panel .widget-tab > .widget-tab-contents {{ background: none; overflow: visible;
  border-color: {RULE}; }}
.bk-panel svg[role=img] {{ height: auto; }}
.bk-panel .jupyter-widget-Accordion {{ margin-top: 10px; }}
.bk-panel .jupyter-widget-Collapse-header {{ background: none; color: {INK};
  border-color: {RULE}; border-radius: 6px; font-weight: 600; }}
.bk-panel .jupyter-widget-Collapse-contents {{ background: none; border-color: {RULE}; }}
.bk-columns {{ display: flex; flex-flow: row wrap; align-items: flex-start; gap: 8px 28px;
  overflow: visible; }}
.bk-columns > .bk-results {{ flex: 1 1 300px; min-width: min(300px, 100%); max-width: 100%;
  overflow: visible; }}
.{STALE} {{ opacity: .38; filter: grayscale(1); }}
.bk-message {{ border-left: 4px solid {ACCENT}; padding: 4px 10px; line-height: 1.4;
  overflow-wrap: anywhere; }}
.bk-message.bk-refusal {{ border-color: {ALERT}; }}
.bk-verdict-row {{ align-items: flex-start; margin: 6px 0; }}
.bk-verdict-place {{ flex: 1 1 260px; min-width: 0; container-type: inline-size; }}
.bk-verdict {{ min-height: 60px; border-left: 6px solid {CAUTION}; padding: 0 10px;
  line-height: 20px; overflow-wrap: anywhere; }}
@container (max-width: 560px) {{ .bk-verdict {{ min-height: 120px; }} }}
.bk-verdict > div {{ font-weight: 600; }} .bk-verdict span {{ font-weight: 400; }}
.bk-verdict > strong {{ color: {CAUTION}; }} .bk-verdict.bk-empty {{ border-color: {RULE}; }}
.bk-verdict.bk-over {{ border-color: {ALERT}; }} .bk-over > strong {{ color: {ALERT}; }}
.bk-verdict.bk-within {{ border-color: {ACCENT}; }} .bk-within > strong {{ color: {ACCENT}; }}
.bk-lasting {{ min-height: 32px; }}
.bk-message progress {{ width: 130px; vertical-align: middle; accent-color: {ACCENT}; }}
.bk-message ul, .bk-findings {{ margin: 2px 0; padding-left: 20px; line-height: 1.4; }}
.bk-drops {{ border-collapse: collapse; font-variant-numeric: tabular-nums; font-size: 14px;
  line-height: 1.3; }}
.bk-drops th, .bk-drops td {{ padding: 3px 10px 3px 0; border-bottom: 1px solid {RULE};
  text-align: left; }}
.bk-drops td:nth-child(n+3), .bk-drops th:nth-child(n+3) {{ text-align: right; }}
.bk-panel :is(.bk-drops, .bk-seats) caption {{ text-align: left; font-size: 15px;
  font-weight: 600; padding: 10px 0 2px; line-height: 1.3; white-space: nowrap; }}
.bk-drops tfoot td {{ border-bottom: none; font-weight: 600; }}
.bk-oils td, .bk-oils th {{ text-align: left !important; vertical-align: top; }}
.bk-results {{ container-type: inline-size; }}
@container (max-width: 560px) {{ .bk-oils .bk-if-wide {{ display: none; }} }}
@container (max-width: 420px) {{ .bk-if-wide {{ display: none; }}
  .bk-drops th, .bk-drops td {{ padding-right: 6px; }} }}
.bk-results .widget-html-content {{ min-width: 0; }}
.bk-scroll {{ max-height: 470px; overflow: auto; }}
.bk-chart {{ contain: inline-size; }}
.bk-chart.bk-empty > :not(p), .bk-chart:not(.bk-empty) > p {{ display: none; }}
.bk-panel .widget-checkbox .widget-label-basic {{ white-space: normal; overflow: visible;
  height: auto; line-height: 1.3; }}
.bk-panel .widget-checkbox {{ height: auto; }}
.bk-panel .widget-checkbox input {{ vertical-align: -2px; }}
.bk-panel .widget-toggle-buttons {{ padding-top: 2px; }}
.bk-panel .widget-toggle-button.mod-active {{ background: {RULE}; box-shadow: none; }}
.bk-panel .widget-inline-hbox, .bk-panel .widget-hbox {{ max-width: 100%; }}
.bk-keep-picture {{ text-align: right; line-height: 1; }}
.bk-keep-picture button {{ border: none; background: none; padding: 4px 0 4px 12px;
  color: {FAINT_INK}; font: 13px {FONT}; text-decoration: underline; cursor: pointer; }}
.bk-panel :is(a, button, [role=button], input, select, textarea, .noUi-handle):focus-visible
  {{ outline: 3px solid {ACCENT} !important; outline-offset: 1px; }}
</style>"""
