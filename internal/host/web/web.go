// Package web answers a browser: it renders every page and takes every key, from the records and answers of one desk.
//
// Start with [New]; its handler is all there is. The server host wraps it with a listener and headers, the phone host
// calls it inside the browser: it opens no file and no connection itself.
// It assumes one party and one guide's phone per handler. Words and units come from package say, static files from the
// host under the prefix it was told. Templates compute nothing: each page's view struct holds finished strings.
package web

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"
	"icehand/internal/base/markup"

	"icehand/internal/base/fault"
	"icehand/internal/base/quantity"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
)

// Options are what a host brings.
type Options struct {
	Desk   *desk.Desk
	Static string          // prefix of the static files, with a slash at both ends
	Log    Logger          // nil: none
	Name   string          // shown on the pages, for example "demo"; may be empty
	Units  quantity.System // of a phone that has not chosen
	Extras []Extra         // pages that this host alone has
	Phone  bool            // this is the phone: what is the server's alone is not offered
	// Imagery is a picture from above; nil: none is offered.
	Imagery *Imagery
}

// Logger takes what goes wrong, as *slog.Logger does. The phone has none, and log/slog would come in with its type.
type Logger interface {
	Warn(msg string, args ...any)
	Error(msg string, args ...any)
}

// silent keeps nothing.
type silent struct{}

func (silent) Warn(string, ...any)  {}
func (silent) Error(string, ...any) {}

// handler holds what requests share.
type handler struct {
	Options
	mux     *http.ServeMux
	advised sync.Mutex // one page at a time looks whether its advice was journaled
	odds    oddsCache
}

// page answers one request; what it returns is shown to the person by the wrapper.
type page func(w http.ResponseWriter, r *http.Request, v *visit) error

// New makes the handler.
func New(o Options) http.Handler {
	if o.Log == nil {
		o.Log = silent{}
	}
	h := &handler{Options: o, mux: http.NewServeMux()}
	for pattern, p := range h.routes() {
		h.mux.Handle(pattern, h.wrap(p))
	}
	for _, x := range o.Extras {
		h.mux.Handle(x.Pattern, h.wrap(h.extra(x)))
	}
	h.mux.HandleFunc("GET /health", h.health)
	return h.mux
}

// routes lists every address in one place; long because there is no other.
func (h *handler) routes() map[string]page {
	return map[string]page{
		"GET /{$}":     h.now,
		"GET /keys":    h.allKeys,
		"GET /map":     h.lakeMap,
		"GET /why":     h.why,
		"GET /day":     h.day,
		"GET /evening": h.evening,
		"GET /people":  h.people,
		"GET /ice":     h.ice,
		"GET /help":    h.help,
		"GET /holes":   h.holes,
		"GET /place":   h.placeForm,
		"GET /depth":   h.depthForm,
		"GET /rods":    h.rods,
		"GET /trip":    h.tripForm,
		"GET /plan":    h.plan,
		"GET /party":   h.party,

		"GET /way":            h.way,
		"GET /whiteout":       h.whiteout,
		"GET /cold":           h.coldWatch,
		"GET /light":          h.light,
		"GET /day/alarms.ics": h.alarms,

		"GET /tackle":  h.tackle,
		"GET /present": h.present,
		"GET /cards":   h.cards,
		"GET /talk":    h.talk,

		"GET /turn-back": h.turnBackForm,
		"GET /":          h.nowhere,

		"GET /map/lake.json":   h.mapLake,
		"GET /map/today.json":  h.mapToday,
		"GET /map/odds.json":   h.mapOdds,
		"GET /map/odds.png":    h.mapOddsImage,
		"GET /map/ice.json":    h.mapIce,
		"GET /map/spread.json": h.mapSpread,
		"GET /map/spread.png":  h.mapSpreadImage,
		"GET /map/bottom.json": h.mapBottom,
		"GET /map/above.json":  h.mapAbove,
		"GET /map/above.png":   h.mapAboveImage,
		"GET /credits":         h.credits,
		"GET /map/place":       h.mapPlace,

		"POST /look":      h.postLook,
		"POST /fish":      h.postFish,
		"POST /fish/name": h.postFishName,
		"POST /sit":       h.postSit,
		"POST /up":        h.postUp,
		"POST /ice":       h.postIce,
		"POST /ice-table": h.postIceTable,
		"POST /freeze-up": h.postFreezeUp,
		"POST /clarity":   h.postClarity,
		"POST /ice-ended": h.postIceEnded,
		"POST /undo":      h.postUndo,

		"GET /close":      h.closeDay,
		"POST /close":     h.postClose,
		"POST /handed-in": h.postHandedIn,
		"POST /join":      h.postJoin,
		"POST /double":    h.postDouble,

		"POST /rules/ticks":    h.postTicks,
		"GET /tally":           h.tally,
		"GET /rules":           h.ruleBook,
		"GET /officer":         h.officer,
		"POST /hold":           h.postHold,
		"POST /fish/correct":   h.postFishCorrect,
		"POST /tally/share":    h.postPortion,
		"POST /rules":          h.postRules,
		"POST /rules/sign":     h.postRulesSign,
		"POST /rules/withdraw": h.postRulesWithdraw,

		"POST /hole":         h.postHole,
		"POST /place":        h.postPlace,
		"POST /depth":        h.postDepth,
		"POST /sounder":      h.postSounder,
		"POST /credits":      h.postCredit,
		"POST /target":       h.postTarget,
		"POST /aim":          h.postAim,
		"POST /not-there":    h.postNotThere,
		"POST /trip":         h.postTrip,
		"POST /plan":         h.postPlan,
		"POST /roster":       h.postRoster,
		"POST /supply":       h.postSupply,
		"POST /hole-state":   h.postHoleState,
		"POST /plan/tell":    h.postTell,
		"POST /plan/open":    h.postOpen,
		"POST /depths":       h.postDepths,
		"POST /turn-back":    h.postTurnBack,
		"POST /clock-right":  h.postClockRight,
		"POST /parked":       h.postParked,
		"POST /report":       h.postReport,
		"POST /hazard":       h.postHazard,
		"POST /head-count":   h.postHeadCount,
		"POST /claim":        h.postClaim,
		"POST /people/reach": h.postReach,
		"POST /settings":     h.postSettings,
		"POST /stand":        h.postStand,
		"POST /pace":         h.postPace,
		"POST /line":         h.postLine,
		"POST /line/back":    h.postLineBack,
		"POST /watch":        h.postWatch,
		"POST /emergency":    h.postEmergency,
		"POST /weather":      h.postWeather,
		"POST /hours":        h.postHours,
		"POST /tackle":       h.postTackle,
		"POST /present":      h.postPresent,
		"POST /practice":     h.postPractice,
		"POST /talk":         h.postTalk,
	}
}

// visit is one request with what every page needs.
type visit struct {
	settings settings
	voice    say.Voice
	now      time.Time
	path     string
	refresh  string // seconds after which the page is shown anew; "" for one that does not age
	lake     bool   // a lake is recorded
	home     say.TurnBackText
	watch    desk.Cold
	urgent   string // a wet person, or a heater without an alarm: told on every page
	homeErr  *fault.Error
}

// wrap gives a page its visit, and answers with whatever goes wrong.
func (h *handler) wrap(p page) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		v := h.visit(r)
		if spared, err := h.spared(w, r, v); spared || err != nil {
			if err != nil {
				h.fail(w, r, v, err)
			}
			return
		}
		if err := p(w, r, v); err != nil {
			h.fail(w, r, v, err)
		}
	})
}

// visit prepares what every page needs. It never fails: a turn-back time that cannot be had is shown as unknown.
func (h *handler) visit(r *http.Request) *visit {
	v := &visit{settings: readSettings(r, h.Units), now: h.Desk.Clock(), path: r.URL.Path}
	v.voice = say.Voice{Units: v.settings.Units, Now: v.now, Hole: func(id uuid.UUID) string { return h.holeName(r.Context(), id) },
		Person: func(id uuid.UUID) string {
			return h.named(r.Context(), func(d desk.View) string { return d.PersonName(id) })
		},
		Writer: func(account uuid.UUID, when time.Time) string {
			return h.named(r.Context(), func(d desk.View) string { return h.Desk.WriterName(d, account, when) })
		}}
	_ = h.Desk.Read(r.Context(), func(d desk.View) error { // its failure shows again in the page itself
		v.voice.Zone, v.lake = d.Lake.Zone, d.Lake.Known
		return nil
	})
	back, err := h.Desk.TurnBack(r.Context())
	if err != nil {
		v.homeErr = fault.Public(err)
	}
	v.home = v.voice.TurnBack(back)
	if v.watch, err = h.Desk.ColdWatch(r.Context(), 0); err == nil {
		v.urgent = v.voice.Urgent(v.watch)
	}
	return v
}

// holeName names a hole of any day; empty when it is not on record.
func (h *handler) holeName(ctx context.Context, id uuid.UUID) string {
	return h.named(ctx, func(d desk.View) string {
		if o := d.Lake.Hole(id); o != nil {
			return say.HoleName(o, d.Today)
		}
		return ""
	})
}

// named asks the record for a name; one that cannot be had is left out.
func (h *handler) named(ctx context.Context, f func(desk.View) string) (name string) {
	_ = h.Desk.Read(ctx, func(d desk.View) error {
		name = f(d)
		return nil
	})
	return name
}

// show renders a page into a buffer, then writes it.
func (h *handler) show(w http.ResponseWriter, r *http.Request, v *visit, status int, title string, body markup.Piece) error {
	return h.write(w, r, status, h.frame(r, v, title, body))
}

func (h *handler) write(w http.ResponseWriter, r *http.Request, status int, c markup.Piece) error {
	var b bytes.Buffer
	if err := c.Render(&b); err != nil {
		return fmt.Errorf("web: rendering %s: %w", r.URL.Path, err)
	}
	head := w.Header()
	head.Set("Content-Type", "text/html; charset=utf-8")
	head.Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes()) // the browser has gone away: nobody to tell
	return nil
}

// statuses maps the code of a fault to an HTTP status.
var statuses = map[fault.Code]int{
	fault.BadInput: http.StatusBadRequest, fault.NotFound: http.StatusNotFound, fault.Missing: http.StatusConflict,
	fault.Conflict: http.StatusConflict, fault.Damaged: http.StatusInternalServerError, fault.NotSaved: http.StatusServiceUnavailable,
	fault.Unavailable: http.StatusServiceUnavailable, fault.Internal: http.StatusInternalServerError,
}

// fail answers with a fault: a page that says what is wrong and what to try. A failed act says "Not saved" first.
func (h *handler) fail(w http.ResponseWriter, r *http.Request, v *visit, err error) {
	f := fault.Public(err)
	status := statuses[f.Code]
	if status == 0 {
		status = http.StatusInternalServerError
	}
	if status >= http.StatusInternalServerError {
		h.Log.Error("A request failed", "path", r.URL.Path, "code", f.Code, "cause", err)
	}
	if wantsData(r) {
		http.Error(w, f.Error(), status)
		return
	}
	view := faultView{Title: "Not shown", Message: Sentence(f.Message), Hint: f.Hint, Back: "/"}
	if r.Method == http.MethodPost {
		view.Title = "Not saved"
	}
	if f.Code == fault.Missing {
		view.Title, view.Back = "Nothing here yet", "/import"
		if h.Phone { // the importer is the server's
			view.Back, view.Ashore = "/", "Files come in ashore, at the server."
		}
	}
	if err := h.show(w, r, v, status, view.Title, faultPage(view)); err != nil {
		h.Log.Error("A fault could not be shown", "cause", err)
		http.Error(w, f.Error(), status)
	}
}

// faultView is the page of a fault.
type faultView struct{ Title, Message, Hint, Ashore, Back string }

// wantsData tells whether a script asked, which reads plain text.
func wantsData(r *http.Request) bool {
	return strings.HasPrefix(r.URL.Path, "/map/") && r.URL.Path != "/map/place"
}

// sentenceCase makes the first letter of words large.
func sentenceCase(s string) string { return strings.TrimSuffix(Sentence(s), ".") }

// Sentence makes a message a sentence.
func Sentence(s string) string {
	if s == "" {
		return s
	}
	s = strings.ToUpper(s[:1]) + s[1:]
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}

func (h *handler) nowhere(http.ResponseWriter, *http.Request, *visit) error {
	if h.Phone {
		return fault.New(fault.NotFound, "Ashore, open it on the server.", "the phone does not carry this page")
	}
	return fault.New(fault.NotFound, "Choose a page below.", "there is no such page")
}

// health answers whether the journal can be read.
func (h *handler) health(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Cache-Control", "no-store")
	if err := h.Desk.Read(r.Context(), func(desk.View) error { return nil }); err != nil {
		h.Log.Error("The journal cannot be read", "cause", err)
		http.Error(w, "the journal cannot be read", http.StatusServiceUnavailable)
		return
	}
	_, _ = w.Write([]byte("ready\n"))
}

// back sends the browser to a page after an act, so that reloading repeats nothing.
func back(w http.ResponseWriter, r *http.Request, to string) error {
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}
