package desk

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"icehand/internal/keep/store"
	"icehand/internal/trade/party"
)

// Sheet is what a trip plan says in words: it is one erasable text.
type Sheet struct {
	Watcher   string   `json:"watcher"` // the named person ashore
	Calls     []Call   `json:"calls,omitempty"`
	Vehicles  []string `json:"vehicles,omitempty"` // what, colour, plate
	Parked    string   `json:"parked,omitempty"`   // where they stand, in words
	Areas     []string `json:"areas,omitempty"`    // coarse, as the outfit calls them
	Equipment string   `json:"equipment,omitempty"`
	Remarks   string   `json:"remarks,omitempty"`
}

// Call is somebody to call.
type Call struct {
	Who    string `json:"who"`
	Number string `json:"number"`
}

// sheet reads the words of a plan; those of an erased one are empty.
func (d *Desk) sheet(ctx context.Context, p *party.Plan) (s Sheet, err error) {
	text, err := d.store.Text(ctx, p.Sheet)
	if errors.Is(err, store.ErrNotFound) {
		return s, nil
	}
	if err != nil {
		return s, fmt.Errorf("desk: reading a trip plan: %w", err)
	}
	if err := json.Unmarshal([]byte(text), &s); err != nil {
		return s, fmt.Errorf("desk: reading a trip plan: %w", err)
	}
	return s, nil
}
