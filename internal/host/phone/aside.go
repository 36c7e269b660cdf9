package phone

import (
	"fmt"
	"net/http"
	"strings"

	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/host/web"
)

// AsidePath is the page that lists entries that do not fit.
const AsidePath = "/aside"

// mostRows is how many entries are listed; the counts tell of all.
const mostRows = 200

// asideView is that page.
type asideView struct {
	Count string
	More  string // how many are not listed; "" for none
	Rows  []asideRow
}

type asideRow struct{ What, From, Why, Since, Do string }

// Aside is the page that lists the entries that do not fit: both hosts have it.
func Aside(d *desk.Desk) web.Extra {
	return web.Extra{Pattern: "GET " + AsidePath, Answer: func(r *http.Request, v web.Visitor) (web.Answer, error) {
		list, err := d.Aside(r.Context())
		if err != nil {
			return web.Answer{}, err
		}
		var view asideView
		err = d.Read(r.Context(), func(x desk.View) error {
			view = asideOf(say.Voice{Units: v.Units, Zone: x.Lake.Zone, Now: x.Now}, list)
			return nil
		})
		return web.Answer{Title: "Set aside", Body: asidePage(view)}, err
	}}
}

// wrong says of each class why an entry is listed, and what is to be done.
var wrong = map[desk.OddClass][2]string{
	desk.OddNewer:      {"Left out: a newer Icehand wrote it.", "Bring this Icehand up to date: it counts then by itself."},
	desk.OddUnreadable: {"Left out: it cannot be read.", "Tell again on its page what happened then. The entry stays kept."},
	desk.OddValue:      {"It counts, and is odd.", "Look at it on its page: correct it, or take it back."},
	desk.OddClock:      {"It counts, but the clock that wrote it was wrong.", "Set that phone's clock. Trust the place of this entry in the day less than the others."},
}

func asideOf(v say.Voice, a desk.Aside) (out asideView) {
	moved := 0
	for _, m := range a.Moved {
		moved += m.Entries
		since := v.When(m.Written)
		if last := v.When(m.Last); last != since {
			since += " to " + last
		}
		out.Rows = append(out.Rows, asideRow{What: say.Few(m.Entries, "entry", "entries") + " of one journal", From: m.From, Since: since,
			Why: "They count. Their numbers were taken: a phone was set back to an older copy, or copied.", Do: "Nothing, unless two phones go on with one copied record: then set one up anew."})
	}
	for i, o := range a.Odd {
		if i == mostRows {
			out.More = say.Few(len(a.Odd)-mostRows, "older entry is", "older entries are") + " not listed."
			break
		}
		row := asideRow{What: fmt.Sprintf("%s, number %d", strings.ReplaceAll(string(o.Kind), "_", " "), o.N), From: o.From, Since: v.When(o.Written), Why: wrong[o.Class][0], Do: wrong[o.Class][1]}
		if o.Why != "" {
			row.Why += " " + web.Sentence(o.Why)
		}
		out.Rows = append(out.Rows, row)
	}
	out.Count = fmt.Sprintf("%s on record; %s, %s in a journal of their own, %s of acts that count once.", say.Few(a.Entries, "entry", "entries"),
		say.Few(len(a.Odd), "does not fit", "do not fit"), say.Few(moved, "lies", "lie"), say.Few(a.Copies, "is a second copy", "are second copies"))
	return out
}
