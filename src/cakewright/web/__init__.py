"""Routes, contexts, templates, static: parse, call one job, fill one context, render."""
