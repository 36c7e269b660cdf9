// Package plan keeps the odds: what the looks, sits, marks, fish and crowds of this day and past days say about where
// schools are, and which hole, chain of holes or sit is worth most a minute.
//
// Start with [NewFilter], feed it events in order of time ([Filter.Look], [Filter.Sit], [Filter.Fish], ...) with
// [Filter.Night] between days, then ask [Filter.Odds], [Filter.Rate] and [Filter.Choose]. [LineAndSpiral] is the way of
// searching that needs none of it.
// It assumes that schools move slowly, that a blank look says little about ground a few metres off and nothing an hour
// later, and that places differ lastingly. Vetoes (ice, hazards, turn-back) come in as a function and are obeyed.
// Its parts can be exchanged: what places are worth (stats/intensity), the schools seen and the ground just looked at
// (stats/track), the choice (stats/choose), the judging of forecasts (stats/score).
// Model note: docs/models/search.md.
package plan
