"""The shift page: what to know at six in the morning, on a phone, with the connection gone.

One file without anything to fetch. What is written on it stays on the phone until it is handed
over as text that `cakewright watch --book` reads.
"""

from __future__ import annotations

import html
import json

from cakewright.jobs.watch import WatchFindings
from cakewright.reports.numbers import Units
from cakewright.reports.running_operator import operator_text
from cakewright.reports.running_words import (
    day,
    drift_sentence,
    label_of_indicator,
    since,
    trouble_text,
    unit_of,
    value_text,
)
from cakewright.running.signals import signal

__all__ = ["shift_page"]

_LOGGED = ("feed_solids", "cake_solids", "filtrate_solids", "polymer_strength", "floc_level")
_STYLE = """
body{font:18px/1.45 system-ui,sans-serif;margin:0 auto;max-width:42em;padding:1em;color:#000;
background:#fff}h1{font-size:1.3em}h2{font-size:1.1em;border-top:2px solid #000;padding-top:.6em}
button,input,select,textarea{font:inherit;min-height:3em;width:100%;box-sizing:border-box;
border:2px solid #000;border-radius:.3em;background:#fff;color:#000;margin:.25em 0}
button{font-weight:600}.alarm{border-left:.5em solid #000;padding-left:.7em;margin:1em 0}
table{border-collapse:collapse;width:100%}td,th{text-align:left;padding:.3em;border-bottom:1px
solid #000}.note{font-size:.85em}@media print{button,form{display:none}body{font-size:12px}}
"""
_SCRIPT = """
const key='cakewright-book-'+document.body.dataset.site;
const book=()=>JSON.parse(localStorage.getItem(key)||'[]');
function show(){const out=document.getElementById('book');out.textContent='';
for(const e of book()){const li=document.createElement('li');
li.textContent=new Date(e.time*1000).toLocaleString()+' '+e.kind+' '+e.key+' '+e.text;
out.appendChild(li)}}
function add(kind,k,text){if(!text&&kind!='seen')return;const all=book();
all.push({time:Math.floor(Date.now()/1000),kind:kind,text:text,who:document.getElementById(
'who').value,key:k,value:null});localStorage.setItem(key,JSON.stringify(all));show()}
document.addEventListener('click',e=>{const b=e.target.closest('button');if(!b)return;
if(b.dataset.kind){const from=b.dataset.from?document.getElementById(b.dataset.from):null;
add(b.dataset.kind,b.dataset.key||(from&&from.dataset.key)||'',from?from.value:
(b.dataset.text||''));if(from&&from.tagName!='SELECT')from.value=''}
if(b.id=='hand'){const t=book().map(x=>JSON.stringify(x)).join('\\n');
const a=document.createElement('a');a.href=URL.createObjectURL(new Blob([t+'\\n']));
a.download='book-'+document.body.dataset.site+'.jsonl';a.click()}});
show();
"""


def _safe(text: str) -> str:
    return html.escape(text)


def _alarms(findings: WatchFindings) -> str:
    parts = []
    for n, drift in enumerate(findings.current[:4]):
        told = drift.explained
        key = told.causes[0].cause.key
        test = told.test
        asked = ""
        if test is not None:
            choices = "".join(f"<option>{_safe(word)}</option>" for word in test.outcomes)
            asked = (
                f"<p><b>Decides it:</b> {_safe(test.text)}</p><select id='t{n}' "
                f"data-key='{test.key}'>{choices}</select><button data-kind='answer' "
                f"data-from='t{n}'>Write the answer down</button>"
            )
        cautions = "".join(f"<p class='note'>{_safe(c.text)}</p>" for c in told.causes[0].cautions)
        parts.append(
            f"<div class='alarm'><p>{_safe(drift_sentence(drift))} {_safe(since(findings, drift))}."
            f"</p>{asked}<p><b>First move, safe for all of these:</b> {_safe(told.first_move)}</p>"
            f"{cautions}<button data-kind='seen' data-key='{key}'>Seen</button>"
            f"<input id='d{n}' data-key='{key}' placeholder='what was done'>"
            f"<button data-kind='done' data-from='d{n}'>We did this</button></div>"
        )
    return "".join(parts) or "<p>No departure is open.</p>"


def _settings(findings: WatchFindings, units: Units) -> str:
    rows = []
    for key, (low, high) in findings.site.limits.items():
        name = "polymer_dose" if key == "polymer_dose" else signal(key).name
        span = f"{value_text(name, low, units)} to {value_text(name, high, units)}"
        label = "polymer dose" if key == "polymer_dose" else signal(key).label
        rows.append(
            f"<tr><td>{_safe(label)}</td><td>{span} {_safe(unit_of(name, units))}</td></tr>"
        )
    return f"<table>{''.join(rows)}</table>" if rows else "<p>No limits are on file.</p>"


def _last_shift(findings: WatchFindings, units: Units) -> str:
    run = [i for i in range(findings.table.size) if findings.table.run_time[i] > 0]
    if not run:
        return "<p>The press did not run.</p>"
    at = run[-1]
    rows = "".join(
        f"<tr><td>{_safe(label_of_indicator(name))}</td>"
        f"<td>{value_text(name, float(one.value[at]), units)} "
        f"{_safe(unit_of(name, units))}</td></tr>"
        for name, one in findings.shifts.items()
        if name in ("dry_solids_flow", "cake_solids", "capture", "polymer_dose")
    )
    return f"<p>Shift of {day(int(findings.table.start[at]))}</p><table>{rows}</table>"


def shift_page(findings: WatchFindings, units: Units = Units.SI) -> str:
    """The page as one file that needs no connection; prints as the day sheet."""
    doubt = "".join(f"<li>{_safe(trouble_text(one))}</li>" for one in findings.untrusted[:6])
    entries = "".join(
        f"<label>{_safe(signal(key).label)} [{_safe(signal(key).house.shown)}]"
        f"<input id='r{key}' data-key='{key}' inputmode='decimal'></label>"
        f"<button data-kind='reading' data-from='r{key}'>Enter</button>"
        for key in _LOGGED
    )
    handover = _safe(operator_text(findings))
    invented = "<p class='note'>Invented plant.</p>" if findings.site.invented else ""
    return (
        "<!doctype html><html lang='en'><meta charset='utf-8'><meta name='viewport' "
        f"content='width=device-width'><title>Shift: {_safe(findings.site.title)}</title>"
        f"<style>{_STYLE}</style><body data-site={json.dumps(_safe(findings.site.key))}>"
        f"<h1>{_safe(findings.site.title)}</h1>{invented}"
        f"<label>Your initials<input id='who'></label>"
        f"<h2>Not to be trusted</h2><ul>{doubt or '<li>Nothing stands out.</li>'}</ul>"
        f"<h2>Open departures</h2>{_alarms(findings)}"
        f"<h2>Last shift</h2>{_last_shift(findings, units)}"
        f"<h2>Settings and their safe limits</h2>{_settings(findings, units)}"
        f"<h2>Log sheet and laboratory</h2>{entries}"
        "<textarea id='n' placeholder='for the next shift'></textarea>"
        "<button data-kind='note' data-from='n'>Write down</button>"
        "<h2>Written on this phone</h2><ul id='book'></ul>"
        "<button id='hand'>Hand over as a file</button>"
        f"<h2>Handover</h2><pre style='white-space:pre-wrap'>{handover}</pre>"
        "<p class='note'>Read only: nothing here writes to the plant. Local rules, permits and the "
        f"supplier's instructions come first.</p><script>{_SCRIPT}</script></body></html>"
    )
