package web

import (
	"net/http"
	"slices"
	"strings"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/safety"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/trade/journal"
	"icehand/internal/trade/lake"
)

// parkedView is a load that stands on the ice.
type parkedView struct {
	say.StoodText
	Of []field
}

// parked lists what stands on the ice now, longest first, each with its clock and what may be said of it.
func parked(on desk.Loads, v *visit) []parkedView {
	var out []parkedView
	for i, s := range on.Judged {
		out = append(out, parkedView{v.voice.Stood(s), []field{{"of", on.IDs[i].String()}}})
	}
	return out
}

// parkable are the loads that one choice names.
var parkable = []string{"snow machine", "sled", "side-by-side", "tracked van", "car", "truck", "shelter"}

// postParked records that a load stands where the phone is, or that it has left.
func (h *handler) postParked(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	of, err := uuidOf(r.PostForm, "of")
	if err != nil {
		return err
	}
	var body *journal.LoadParked
	if of != uuid.Nil {
		body, err = h.leaving(r, of)
	} else {
		body, err = h.parking(r, v)
	}
	if err != nil {
		return err
	}
	if err := h.Desk.Record(r.Context(), a, body); err != nil {
		return err
	}
	return back(w, r, "/ice#parked")
}

// leaving ends a parking.
func (h *handler) leaving(r *http.Request, of uuid.UUID) (body *journal.LoadParked, err error) {
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		i := slices.IndexFunc(d.Lake.Parked, func(p *lake.Parked) bool { return p.ID == of })
		if i < 0 {
			return fault.New(fault.NotFound, "Look at the list again.", "that load is not on record")
		}
		p := d.Lake.Parked[i]
		body = &journal.LoadParked{What: p.What, Mass: max(1, int64(p.Mass.Kilograms()*1000+0.5)), At: *journal.PointOf(d.Lake.Frame.Position(p.At)), Left: true, Of: of}
		return nil
	})
	return body, err
}

// parking reads a load that is put down here.
func (h *handler) parking(r *http.Request, v *visit) (*journal.LoadParked, error) {
	what := strings.TrimSpace(r.PostForm.Get("what"))
	if what == "" || len(what) > longestWord {
		return nil, fault.New(fault.BadInput, "Say what stands there.", "the load has no name")
	}
	mass, err := v.massOf(r.PostForm.Get("mass"))
	if err != nil {
		return nil, err
	}
	p, err := h.placeOf(r.Context(), r.PostForm)
	if err != nil {
		return nil, err
	}
	if !p.Known {
		return nil, fault.New(fault.BadInput, "Step outside and try again.", "there is no fix to say where it stands")
	}
	body := &journal.LoadParked{What: what, Mass: int64(mass.Kilograms()*1000 + 0.5)}
	return body, h.Desk.Read(r.Context(), func(d desk.View) error {
		body.At = *journal.PointOf(d.Lake.Frame.Position(p.At))
		return nil
	})
}

// massOf reads the mass of a load, in the phone's unit unless it names another.
func (v *visit) massOf(text string) (quantity.Mass, error) {
	unit := quantity.Kilogram
	if v.settings.Units == quantity.US {
		unit = quantity.Pound
	}
	mass, err := quantity.ParseMass(text, unit)
	if err != nil || !(mass > 0) || mass > 60*quantity.Tonne {
		return 0, fault.New(fault.BadInput, "Write its mass with all that is on it, such as 2900 kg.", "%q is no mass of a load", text)
	}
	return mass, nil
}

// hazardView is a hazard on record with what may be reported of it.
type hazardView struct{ ID, Says string }

// hazardsOf lists the hazards that an answer names, nearest first, with who reported them when that was told.
func hazardsOf(d desk.View, v *visit, near []safety.HazardNear) []hazardView {
	var out []hazardView
	for _, z := range near {
		x := hazardView{ID: z.Hazard.ID.String(), Says: v.voice.Hazard(z)}
		if _, id, told := strings.Cut(z.Hazard.By, " "); told {
			if by, err := uuid.Parse(id); err == nil && d.Party.Guest(by) != nil {
				x.Says += ", by " + personName(d, d.Party.Guest(by))
			}
		}
		out = append(out, x)
	}
	return out
}

// postReport records a newer report of a hazard, by a person of today: it supersedes the older one, which is kept.
func (h *handler) postReport(w http.ResponseWriter, r *http.Request, v *visit) error {
	a, err := ActIn(r)
	if err != nil {
		return err
	}
	of, err := uuidOf(r.PostForm, "of")
	if err != nil {
		return err
	}
	by, err := uuidOf(r.PostForm, "by")
	if err != nil {
		return err
	}
	var body *journal.Hazard
	err = h.Desk.Read(r.Context(), func(d desk.View) error {
		i := slices.IndexFunc(d.Lake.Hazards, func(z *lake.Hazard) bool { return z.ID == of })
		if i < 0 {
			return fault.New(fault.NotFound, "Look at the list again.", "that hazard is not on record")
		}
		z := d.Lake.Hazards[i]
		g := d.Party.Guest(by)
		if g == nil || g.Day != d.Today {
			return fault.New(fault.BadInput, "Say who saw it.", "the report names nobody of today")
		}
		report := z.Report // still so
		switch r.PostForm.Get("report") {
		case "same":
		case "gone":
			report = "cleared"
		default:
			return fault.New(fault.BadInput, "Press one of the two.", "the report says neither still there nor gone")
		}
		body = &journal.Hazard{What: z.What, Shape: z.Shape, Radius: z.Radius.Millimetres(), Report: report, Supersedes: of, By: g.Role + " " + g.ID.String()}
		if z.Gap > 0 {
			body.Gap = journal.MM(z.Gap)
		}
		for _, p := range z.Points {
			body.Points = append(body.Points, *journal.PointOf(d.Lake.Frame.Position(p)))
		}
		return nil
	})
	if err != nil {
		return err
	}
	if err := h.Desk.Record(r.Context(), a, body); err != nil {
		return err
	}
	return back(w, r, "/ice#hazards")
}
