// Package plan keeps the odds: what the looks, sits, marks, fish and crowds of this day and past days say about where
// schools are, and which hole, chain of holes or sit is worth most a minute.
//
// Start with [NewFilter], feed it events in order of time, then ask [Filter.Odds] and [Filter.Choose].
// It assumes that schools move slowly, that a blank look says little about ground a few metres off and nothing an hour
// later, and that places differ lastingly. Vetoes (ice, hazards, turn-back) come in as a function and are obeyed.
// Model note: docs/models/search.md.
package plan
