package phone

import (
	"fmt"
	"net/http"
	"time"

	"github.com/google/uuid"

	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/host/web"
)

// A memo has at most a minute, all of them together 20 MB: about 110 minutes of speech at 24 kbit/s.
const (
	memoSeconds = 60
	memoBytes   = 20_000_000
)

// lately is how long after a look a memo without a fix belongs to its hole. Common practice, no source.
const lately = 10 * time.Minute

// memoView is the page of voice memos.
type memoView struct {
	Hole, Name     string // where the phone stands; "" at no hole
	Seconds, Bytes string
	Limits         string
}

// memos is the app's page of voice memos. They are no entries: this program never sees them.
func memos(d *desk.Desk) web.Extra {
	return web.Extra{Pattern: "GET /memos", Answer: func(r *http.Request, _ web.Visitor) (web.Answer, error) {
		view := memoView{Seconds: fmt.Sprint(memoSeconds), Bytes: fmt.Sprint(memoBytes), Limits: fmt.Sprintf("At most %d s each, %d MB in all.", memoSeconds, memoBytes/1_000_000)}
		_, hole, err := d.Standing(r.Context())
		if err != nil {
			return web.Answer{}, err
		}
		err = d.Read(r.Context(), func(x desk.View) error {
			if n := len(x.Lake.Looks); hole == uuid.Nil && n > 0 && x.Now.Sub(x.Lake.Looks[n-1].When) < lately {
				hole = x.Lake.Looks[n-1].Hole // no fix of late: he is still there, or not far
			}
			if o := x.Lake.Hole(hole); hole != uuid.Nil && o != nil {
				view.Hole, view.Name = hole.String(), say.HoleName(o, x.Today)
			}
			return nil
		})
		return web.Answer{Title: "Voice memos", Body: memoPage(view)}, err
	}}
}
