// Package priors says what is believed before the first look: the stage of the season, the depths that perch keep in it,
// and how activity runs over the day. All of it is wide and moves with the outfit's own record.
//
// Start with [StageOf] and [DepthPreference].
// Model note: docs/models/search.md.
package priors
