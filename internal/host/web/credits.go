package web

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"time"

	"icehand/internal/base/fault"
	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// creditsView is the page of whose data the map shows.
type creditsView struct{ Rows []creditRow }

// creditRow is one layer: whose it is, on what terms, of when.
type creditRow struct {
	What, Name, Owner, Licence, Dated, Rows string
	Share                                   bool   // its terms pass on to what is made of it
	ID                                      string // of the layer; "" for what cannot be told otherwise
}

// credit is what was told of a layer's owner.
type credit struct {
	Owner   string `json:"owner"`
	Licence string `json:"licence"`
	Dated   string `json:"dated,omitempty"`
}

// creditSetting is the key of the setting that holds it, by the layer's bytes, so that the same file read twice keeps it.
func creditSetting(l *lake.Layer) string { return "credit:" + l.Blob.String() }

// mostCredit bounds each field.
const mostCredit = 300

// shareAlike tells whether a licence passes on to what is made of the data. Only the outline would be under it: it is kept
// as it came, in a file of its own, and no hole is ever written into it.
func shareAlike(licence string) bool {
	l := strings.ToLower(licence)
	return strings.Contains(l, "odbl") || strings.Contains(l, "open database") || strings.Contains(l, "by-sa") || strings.Contains(l, "share")
}

// credits lists owner, licence and date of every layer that the map shows.
func (h *handler) credits(w http.ResponseWriter, r *http.Request, v *visit) error {
	var view creditsView
	words := map[string]string{"outline": "Outline", "soundings": "Soundings", "forecast": "Forecast", "station": "Station history"}
	err := h.Desk.Read(r.Context(), func(d desk.View) error {
		for _, what := range []string{"outline", "soundings", "forecast", "station"} {
			l := d.Lake.Layer(what)
			if l == nil {
				continue
			}
			row := creditRow{What: words[what], Name: l.Name, Owner: l.Source, Licence: l.Licence, Dated: "read in " + l.When.In(v.voice.Zone).Format("2 Jan 2006"), ID: l.ID.String(), Rows: fmt.Sprintf("%d rows", l.Rows)}
			if l.Issued != 0 {
				row.Dated = "issued " + time.UnixMilli(l.Issued).In(v.voice.Zone).Format("2 Jan 2006 15:04")
			}
			var c credit
			if raw := d.Lake.Setting(creditSetting(l), d.Now); raw != nil && json.Unmarshal(raw, &c) == nil {
				row.Owner, row.Licence = c.Owner, c.Licence
				if c.Dated != "" {
					row.Dated = c.Dated + ", " + row.Dated
				}
			}
			row.Share = shareAlike(row.Licence)
			view.Rows = append(view.Rows, row)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if h.Imagery != nil {
		view.Rows = append(view.Rows, creditRow{What: "Picture from above", Owner: h.Imagery.Credit, Licence: "as the owner states", Dated: "the day before, on request"})
	}
	view.Rows = append(view.Rows, creditRow{What: "Holes, hazards, ice", Name: "this outfit's own record", Owner: "the outfit", Licence: "private, goes nowhere by itself", Dated: "as recorded"})
	return h.show(w, r, v, http.StatusOK, "Credits", creditsPage(view))
}

// postCredit keeps what was told of a layer's owner.
func (h *handler) postCredit(w http.ResponseWriter, r *http.Request, _ *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	id, err := uuidOf(r.PostForm, "layer")
	if err != nil {
		return err
	}
	field := func(name string) string { return strings.TrimSpace(r.PostForm.Get(name)) }
	c := credit{field("owner"), field("licence"), field("dated")}
	if c.Owner == "" || c.Licence == "" {
		return fault.New(fault.BadInput, "Look on the page or in the file that the data came from.", "owner or licence is missing")
	}
	if max(len(c.Owner), len(c.Licence), len(c.Dated)) > mostCredit {
		return fault.New(fault.BadInput, "Give the licence's name, not its text.", "a credit is longer than %d letters", mostCredit)
	}
	key := ""
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		for i := range d.Lake.Layers {
			if l := &d.Lake.Layers[i]; l.ID == id {
				key = creditSetting(l)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if key == "" {
		return fault.New(fault.NotFound, "Choose a layer on the page.", "that layer is not on record")
	}
	raw, err := json.Marshal(c)
	if err != nil {
		return fmt.Errorf("web: credit: %w", err)
	}
	if err := h.Desk.Record(r.Context(), a, &journal.Setting{Key: key, Value: raw}); err != nil {
		return err
	}
	return back(w, r, "/credits")
}
