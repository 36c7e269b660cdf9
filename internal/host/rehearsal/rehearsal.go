// Package rehearsal is the page Season > Rehearsal: a made-up day unfolds on it, by one way of searching or by two side
// by side, and ways are compared over some days.
//
// Start with [New]; a host hands its [Pages.Extras] to package web and calls [Pages.Close] when it stops. Runs are walked
// in the background, one at a time, and what came of the last few is kept.
// It assumes a host with a processor to spare: it is no part of package web, so that the phone carries neither the page
// nor the made-up lakes. It reads no record and writes none. Lakes, fish and catches are invented, and the page says so.
package rehearsal

import (
	"log/slog"
	"net/http"
	"net/url"

	"icehand/internal/base/fault"
	"icehand/internal/host/web"
)

// Path is the page's address.
const Path = "/season/rehearsal"

// Pages are the page and what it keeps between requests.
type Pages struct{ runs *runs }

// New makes the pages. Nothing runs until it is asked for.
func New(log *slog.Logger) *Pages {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	return &Pages{newRuns(log)}
}

// Close stops what is being walked and waits for its end.
func (p *Pages) Close() { p.runs.close() }

// Extras lists the addresses for package web.
func (p *Pages) Extras() []web.Extra {
	return []web.Extra{
		{Pattern: "GET " + Path, Word: "Season", Answer: p.show},
		{Pattern: "GET " + Path + "/moment", Answer: p.moment},
		{Pattern: "POST " + Path, Answer: p.start},
		{Pattern: "POST " + Path + "/stop", Answer: p.stop},
	}
}

// refresh is how often a page shows its progress anew, in seconds.
const refresh = 1

func (p *Pages) show(r *http.Request, v web.Visitor) (web.Answer, error) {
	q, l, err := read(r.URL.Query())
	return p.page(q, l, v, err), nil
}

// page shows what is kept of a question, what is being walked, and the form. A fault is said on top of it.
func (p *Pages) page(q question, l look, v web.Visitor, err error) web.Answer {
	view := pageView{Title: "Rehearsal", Form: formOf(q, l)}
	a := web.Answer{Title: "Rehearsal"}
	if err == nil {
		err = p.runs.why(q.day(), q.table())
	} else {
		a.Status = http.StatusBadRequest
		if fault.CodeOf(err) == fault.Conflict {
			a.Status = http.StatusConflict
		}
	}
	if err != nil {
		f := fault.Public(err)
		view.Fault, view.Hint = web.Sentence(f.Message), f.Hint
	}
	if x := p.runs.running(); x != nil {
		view.Running = runningOf(x)
		a.Refresh = refresh
	}
	if view.Running != nil || a.Status != 0 {
		a.Body = rehearsalPage(view)
		return a
	}
	if u := p.runs.day(q); u != nil {
		view.Day = dayOf(u, q, l, v.Units)
		view.Title = view.Day.Title
	}
	if t := p.runs.table(q); t != nil {
		view.Table = tableOf(t, q)
	}
	a.Body = rehearsalPage(view)
	return a
}

// moment gives the part of the page that changes with the time, for the script that scrubs.
func (p *Pages) moment(r *http.Request, v web.Visitor) (web.Answer, error) {
	q, l, err := read(r.URL.Query())
	if err != nil {
		return web.Answer{}, err
	}
	u := p.runs.day(q)
	if u == nil {
		return web.Answer{}, fault.New(fault.NotFound, "Watch the day again.", "this day is not kept any more")
	}
	return web.Answer{Bare: true, Body: momentPart(momentOf(u, q, l, v.Units))}, nil
}

// start walks what a form asks for in the background.
func (p *Pages) start(r *http.Request, v web.Visitor) (web.Answer, error) {
	if err := r.ParseForm(); err != nil {
		return web.Answer{}, fault.Wrap(err, fault.BadInput, "Go back and enter it again.", "the form could not be read")
	}
	q, l, err := read(r.PostForm)
	if err == nil {
		if r.PostForm.Get("do") == "compare" {
			err = p.runs.compare(q)
		} else {
			err = p.runs.watch(q)
		}
	}
	if err != nil {
		return p.page(q, l, v, err), nil
	}
	return web.Answer{To: address(Path, q.values(l))}, nil
}

// stop ends what is being walked.
func (p *Pages) stop(r *http.Request, _ web.Visitor) (web.Answer, error) {
	p.runs.cancel()
	to := Path
	if err := r.ParseForm(); err == nil {
		if q, l, err := read(r.PostForm); err == nil {
			to = address(Path, q.values(l))
		}
	}
	return web.Answer{To: to}, nil
}

func address(path string, v url.Values) string { return path + "?" + v.Encode() }
