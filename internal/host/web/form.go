package web

import (
	"context"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/base/geo"
	"icehand/internal/base/quantity"
	"icehand/internal/engine/advise"
	"icehand/internal/host/desk"
	"icehand/internal/trade/journal"
)

// newID gives the identity that a form carries, so that a form sent twice counts once.
func newID() string { return journal.NewID().String() }

// ParseForm reads a posted form.
func ParseForm(r *http.Request) error {
	if err := r.ParseForm(); err != nil {
		return fault.Wrap(err, fault.BadInput, "Go back and enter it again.", "the form could not be read")
	}
	return nil
}

// ActIn reads a form and the identity of the act that it stands for.
func ActIn(r *http.Request) (desk.Act, error) {
	if err := ParseForm(r); err != nil {
		return desk.Act{}, err
	}
	return actOf(r.PostForm)
}

// actOf reads the identity of the act that a form stands for.
func actOf(form url.Values) (desk.Act, error) {
	id, err := uuidOf(form, "id")
	if err != nil {
		return desk.Act{}, err
	}
	if id == uuid.Nil {
		id = journal.NewID()
	}
	if id.Version() != 7 {
		return desk.Act{}, fault.New(fault.BadInput, "Go back and enter it again.", "the form carries no identity of an act")
	}
	return desk.Act{ID: id}, nil
}

// uuidOf reads an optional identity.
func uuidOf(form url.Values, key string) (uuid.UUID, error) {
	s := form.Get(key)
	if s == "" {
		return uuid.Nil, nil
	}
	id, err := uuid.Parse(s)
	if err != nil {
		return uuid.Nil, fault.New(fault.BadInput, "Go back and enter it again.", "the form's field %s cannot be read", key)
	}
	return id, nil
}

// placeOf reads where the phone stands: its fix if the form carries one, else what the desk knows. A fix is also told
// to the desk, so that the next step starts from it.
func (h *handler) placeOf(ctx context.Context, form url.Values) (advise.Place, error) {
	if h.Desk.Told() {
		return h.Desk.Here(), nil
	}
	if form.Get("lat") == "" {
		return fresh(h.Desk.Here(), h.Desk.Clock()), nil
	}
	number := func(key string) float64 {
		v, err := strconv.ParseFloat(form.Get(key), 64)
		if err != nil {
			return -1e9 // outside every range below
		}
		return v
	}
	at := geo.Position{Lat: number("lat"), Lon: number("lon")}
	accuracy, age := number("accuracy"), number("age")
	if !at.Valid() || accuracy < 0 || age < 0 || age > 3600 {
		return advise.Place{}, fault.New(fault.BadInput, "Try again, or log without a fix.", "the phone's fix cannot be read")
	}
	local, err := h.Desk.Local(ctx, at)
	if err != nil {
		return advise.Place{}, err
	}
	p := advise.Place{At: local, Known: true, Accuracy: quantity.Length(accuracy), Fixed: h.Desk.Clock().Add(-time.Duration(age * float64(time.Second)))}
	h.Desk.Stand(p)
	return fresh(h.Desk.Here(), h.Desk.Clock()), nil // too old a fix is no fix
}

// actFix is the age beyond which a fix places no act: in a third of a minute a scout walks twenty metres, to another
// hole. Common practice, no source.
const actFix = 20 * time.Second

// fresh takes a fix away that is too old to place an act.
func fresh(p advise.Place, now time.Time) advise.Place {
	p.Known = p.Known && now.Sub(p.Fixed) <= actFix
	return p
}

// holeOf reads the hole that a form names, or makes it the place where the phone stands.
func (h *handler) holeOf(ctx context.Context, form url.Values) (desk.HoleRef, error) {
	id, err := uuidOf(form, "hole")
	if err != nil || id != uuid.Nil {
		return desk.HoleRef{ID: id}, err
	}
	p, err := h.placeOf(ctx, form)
	return desk.HoleRef{Place: &p}, err
}
