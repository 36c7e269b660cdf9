// Package report is the page Reports: the guest report of a day is made there, looked at as a stranger would, saved, and given by a link that ends.
//
// Start with [New]; a host hands its [Pages.Extras] to package web. [Page] writes a report with the program's typeface, for
// commands too.
// It assumes a large screen ashore: it is no part of package web, so that the phone does not carry it. What a report may hold is settled in engine/share, what is
// gathered for it in package desk; nothing is decided here.
package report

import (
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"

	"icehand/internal/base/fault"
	"icehand/internal/engine/share"
	"icehand/internal/feed/photo"
	"icehand/internal/host/desk"
	"icehand/internal/host/say"
	"icehand/internal/host/web"
	"icehand/internal/trade/journal"
	assets "icehand/web"
)

// Path is the page's address; links to reports open under /r/.
const (
	Path = "/report"
	Link = "/r/"
)

// policy lets a report that stands alone show its own type and pictures, and load or send nothing.
const policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"

// Page writes a report with the program's typeface inside.
func Page(r share.Report) ([]byte, error) {
	var f share.Font
	for name, into := range map[string]*[]byte{"400": &f.Regular, "700": &f.Bold} {
		b, err := fs.ReadFile(assets.Embedded(), "vendor/atkinson-hyperlegible-next-"+name+".woff2")
		if err != nil {
			return nil, fmt.Errorf("report: reading the typeface: %w", err)
		}
		*into = b
	}
	return r.Page(f)
}

// Pages are the pages of one record.
type Pages struct {
	desk *desk.Desk

	mu   sync.Mutex
	keys map[uuid.UUID]string // of links made while this program runs, by report
}

// New makes the pages.
func New(d *desk.Desk) *Pages { return &Pages{desk: d, keys: map[uuid.UUID]string{}} }

// Extras lists the addresses for package web.
func (p *Pages) Extras() []web.Extra {
	return []web.Extra{
		{Pattern: "GET " + Path, Word: "Reports", Answer: p.show},
		{Pattern: "GET " + Path + "/preview", Answer: p.preview},
		{Pattern: "GET " + Path + "/given/{id}", Answer: p.given},
		{Pattern: "GET " + Path + "/picture/{id}", Answer: p.picture},
		{Pattern: "GET " + Link + "{key}", Answer: p.open},
		{Pattern: "POST " + Path + "/picture", Answer: p.addPicture},
		{Pattern: "POST " + Path + "/give", Answer: p.give},
		{Pattern: "POST " + Path + "/back", Answer: p.takeBack},
		{Pattern: "POST " + Path + "/names", Answer: p.names},
	}
}

// ask reads what was chosen.
func (p *Pages) ask(r *http.Request, q url.Values, v web.Visitor) (out desk.ReportAsk, err error) {
	out = desk.ReportAsk{Day: journal.Day(q.Get("day")), Words: q.Get("words"), Depth: q.Get("depth") != "", Units: v.Units}
	if out.Day == "" {
		err := p.desk.Read(r.Context(), func(d desk.View) error {
			out.Day = d.Today
			return nil
		})
		if err != nil {
			return out, err
		}
	}
	if !out.Day.Valid() {
		return out, fault.New(fault.BadInput, "Choose a day.", "%q is not a date", q.Get("day"))
	}
	if next := q.Get("next"); next != "" {
		if out.Next = journal.Day(next); !out.Next.Valid() {
			return out, fault.New(fault.BadInput, "Write it as 2027-01-14.", "%q is not a date", next)
		}
	}
	for _, s := range q["picture"] {
		id, err := uuid.Parse(s)
		if err != nil {
			return out, fault.New(fault.BadInput, "Choose one of the pictures shown.", "%q names no picture", s)
		}
		out.Pictures, out.Captions = append(out.Pictures, id), append(out.Captions, q.Get("caption-"+s))
	}
	return out, nil
}

// show shows the form, what the report would tell a stranger, and what was given.
func (p *Pages) show(r *http.Request, v web.Visitor) (web.Answer, error) {
	q := r.URL.Query()
	ask, err := p.ask(r, q, v)
	if err != nil {
		return web.Answer{}, err
	}
	view := formView{Day: string(ask.Day), DayText: say.Date(ask.Day), Words: ask.Words, Depth: ask.Depth, Next: string(ask.Next), Left: share.MostWords}
	if err := p.fill(r, &view, ask); err != nil {
		return web.Answer{}, err
	}
	rep, err := p.desk.GuestReport(r.Context(), ask)
	if err != nil {
		f := fault.Public(err)
		view.Fault, view.Hint = strings.ToUpper(f.Message[:1])+f.Message[1:], f.Hint
		return web.Answer{Title: "Reports", Status: http.StatusOK, Body: formPage(view)}, nil
	}
	view.Preview = Path + "/preview?" + query(ask)
	view.File = rep.FileName()
	view.Says = rep.InWords()
	for _, t := range rep.Tells() {
		view.Tells = append(view.Tells, tellView{t.What, t.Stranger, t.Look})
	}
	view.Absent, view.Outside = strings.Join(share.Absent(), "; "), share.Outside()
	return web.Answer{Title: "Reports", Body: formPage(view)}, nil
}

// query writes a choice as the page's own address holds it.
func query(a desk.ReportAsk) string {
	q := url.Values{"day": {string(a.Day)}}
	if a.Words != "" {
		q.Set("words", a.Words)
	}
	if a.Depth {
		q.Set("depth", "yes")
	}
	if a.Next != "" {
		q.Set("next", string(a.Next))
	}
	for i, id := range a.Pictures {
		q.Add("picture", id.String())
		if i < len(a.Captions) && a.Captions[i] != "" {
			q.Set("caption-"+id.String(), a.Captions[i])
		}
	}
	return q.Encode()
}

// fill lists days, pictures and what was given.
func (p *Pages) fill(r *http.Request, view *formView, ask desk.ReportAsk) (err error) {
	ctx := r.Context()
	if view.Outfit, err = p.desk.Word(ctx, desk.OutfitName); err != nil {
		return err
	}
	if view.Private, err = p.desk.Word(ctx, desk.PrivateNames); err != nil {
		return err
	}
	chosen := map[uuid.UUID]bool{}
	for _, id := range ask.Pictures {
		chosen[id] = true
	}
	pictures, err := p.desk.Pictures(ctx, ask.Day)
	if err != nil {
		return err
	}
	for i, x := range pictures {
		view.Pictures = append(view.Pictures, pictureView{x.ID.String(), Path + "/picture/" + x.ID.String(), fmt.Sprintf("picture %d", i+1), chosen[x.ID], r.URL.Query().Get("caption-" + x.ID.String())})
	}
	return p.desk.Read(ctx, func(d desk.View) error {
		voice := say.Voice{Now: d.Now, Zone: d.Lake.Zone}
		for _, g := range d.Party.Given {
			if g.Of != ask.Day {
				continue
			}
			x := givenView{ID: g.ID.String(), Text: "Made " + voice.When(g.When) + ". No link.", Open: Path + "/given/" + g.ID.String()}
			switch {
			case g.Opens(d.Now):
				p.mu.Lock()
				if key := p.keys[g.ID]; key != "" {
					view.Link = Link + key // the newest
				}
				p.mu.Unlock()
				x.Text, x.Live = "Made "+voice.When(g.When)+". Its link opens until "+voice.When(time.UnixMilli(g.Until))+".", true
			case g.Until != 0:
				x.Text = "Made " + voice.When(g.When) + ". Its link has ended."
			}
			view.Given = append([]givenView{x}, view.Given...)
		}
		return nil
	})
}

// preview shows the report as guests will see it.
func (p *Pages) preview(r *http.Request, v web.Visitor) (web.Answer, error) {
	_, page, err := p.made(r, r.URL.Query(), v)
	if err != nil {
		return web.Answer{}, err
	}
	return web.Answer{File: &web.File{Data: page, Media: "text/html; charset=utf-8", Policy: policy}}, nil
}

func (p *Pages) made(r *http.Request, q url.Values, v web.Visitor) (ask desk.ReportAsk, page []byte, err error) {
	if ask, err = p.ask(r, q, v); err != nil {
		return ask, nil, err
	}
	rep, err := p.desk.GuestReport(r.Context(), ask)
	if err != nil {
		return ask, nil, err
	}
	page, err = Page(rep)
	return ask, page, err
}

// given shows a report as it was made.
func (p *Pages) given(r *http.Request, _ web.Visitor) (web.Answer, error) {
	id, err := uuid.Parse(r.PathValue("id"))
	if err != nil {
		return web.Answer{}, fault.New(fault.NotFound, "", "there is no such report")
	}
	page, err := p.desk.Given(r.Context(), id)
	return web.Answer{File: &web.File{Data: page, Media: "text/html; charset=utf-8", Policy: policy}}, err
}

// open answers a link.
func (p *Pages) open(r *http.Request, _ web.Visitor) (web.Answer, error) {
	page, err := p.desk.OpenLink(r.Context(), r.PathValue("key"))
	return web.Answer{File: &web.File{Data: page, Media: "text/html; charset=utf-8", Policy: policy}}, err
}

// picture shows a picture of the day, as the report would.
func (p *Pages) picture(r *http.Request, _ web.Visitor) (web.Answer, error) {
	id, err := uuid.Parse(r.PathValue("id"))
	if err != nil {
		return web.Answer{}, fault.New(fault.NotFound, "", "there is no such picture")
	}
	x, err := p.desk.Picture(r.Context(), id)
	return web.Answer{File: &web.File{Data: x.Data, Media: "image/jpeg"}}, err
}

// act reads the act of a form and its day.
func (p *Pages) act(r *http.Request, q url.Values) (a desk.Act, err error) {
	if s := q.Get("id"); s != "" {
		if a.ID, err = uuid.Parse(s); err != nil {
			return a, fault.New(fault.BadInput, "Load the page anew and repeat.", "the form has no identity")
		}
	}
	day := journal.Day(q.Get("day"))
	err = p.desk.Read(r.Context(), func(d desk.View) error {
		a.At = d.Now
		if day.Valid() && day < d.Today { // it belongs to its day, whenever it is entered
			a.At = day.Midnight(d.Lake.Zone).Add(18 * time.Hour)
		}
		return nil
	})
	return a, err
}

// addPicture takes a picture in.
func (p *Pages) addPicture(r *http.Request, v web.Visitor) (web.Answer, error) {
	if err := r.ParseMultipartForm(photo.MostBytes); err != nil {
		return web.Answer{}, fault.Wrap(err, fault.BadInput, "Choose one picture at a time.", "the picture did not come through whole")
	}
	defer func() { _ = r.MultipartForm.RemoveAll() }() // what lies in the machine's folder for passing files is not kept
	a, err := p.act(r, r.Form)
	if err != nil {
		return web.Answer{}, err
	}
	files := r.MultipartForm.File["file"]
	if len(files) != 1 {
		return web.Answer{}, fault.New(fault.BadInput, "Choose one picture.", "%d files came", len(files))
	}
	f, err := files[0].Open()
	if err != nil {
		return web.Answer{}, fmt.Errorf("report: reading a picture: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, photo.MostBytes+1))
	if err != nil {
		return web.Answer{}, fmt.Errorf("report: reading a picture: %w", err)
	}
	if err := p.desk.AddPicture(r.Context(), a, data); err != nil {
		return web.Answer{}, err
	}
	return web.Answer{To: Path + "?day=" + url.QueryEscape(r.Form.Get("day"))}, nil
}

// give makes a report for good, with a link when days are told.
func (p *Pages) give(r *http.Request, v web.Visitor) (web.Answer, error) {
	if err := r.ParseForm(); err != nil {
		return web.Answer{}, fault.Wrap(err, fault.BadInput, "Load the page anew and repeat.", "the form did not come through whole")
	}
	ask, page, err := p.made(r, r.PostForm, v)
	if err != nil {
		return web.Answer{}, err
	}
	a, err := p.act(r, url.Values{"id": r.PostForm["id"]}) // a report is made now, of whichever day
	if err != nil {
		return web.Answer{}, err
	}
	g := desk.Give{Of: ask.Day, Page: page}
	to := Path + "?" + query(ask)
	if days := r.PostForm.Get("days"); days != "" && days != "0" {
		n, err := strconv.Atoi(days)
		if err != nil {
			return web.Answer{}, fault.New(fault.BadInput, "Choose from 1 to 90 days.", "%q is no number of days", days)
		}
		if g.Key, err = desk.NewKey(); err != nil {
			return web.Answer{}, err
		}
		g.Life = time.Duration(n) * 24 * time.Hour
	}
	if a.ID == uuid.Nil {
		a.ID = journal.NewID()
	}
	if err := p.desk.GiveReport(r.Context(), a, g); err != nil {
		return web.Answer{}, err
	}
	if g.Key != "" {
		p.mu.Lock()
		if _, repeated := p.keys[a.ID]; !repeated { // a form that was sent twice made one report, under its first key
			p.keys[a.ID] = g.Key
		}
		p.mu.Unlock()
	}
	return web.Answer{To: to + "#given"}, nil
}

// takeBack ends a link.
func (p *Pages) takeBack(r *http.Request, _ web.Visitor) (web.Answer, error) {
	if err := r.ParseForm(); err != nil {
		return web.Answer{}, fault.Wrap(err, fault.BadInput, "Load the page anew and repeat.", "the form did not come through whole")
	}
	id, err := uuid.Parse(r.PostForm.Get("report"))
	if err != nil {
		return web.Answer{}, fault.New(fault.NotFound, "", "there is no such report")
	}
	a, err := p.act(r, url.Values{"id": r.PostForm["id"]})
	if err != nil {
		return web.Answer{}, err
	}
	if err := p.desk.TakeBack(r.Context(), a, id); err != nil {
		return web.Answer{}, err
	}
	return web.Answer{To: Path + "?day=" + url.QueryEscape(r.PostForm.Get("day")) + "#given"}, nil
}

// names tells what the outfit calls itself, and which places it keeps to itself.
func (p *Pages) names(r *http.Request, _ web.Visitor) (web.Answer, error) {
	if err := r.ParseForm(); err != nil {
		return web.Answer{}, fault.Wrap(err, fault.BadInput, "Load the page anew and repeat.", "the form did not come through whole")
	}
	for _, key := range []string{desk.OutfitName, desk.PrivateNames} {
		if err := p.desk.TellWord(r.Context(), desk.Act{}, key, r.PostForm.Get(key)); err != nil {
			return web.Answer{}, err
		}
	}
	return web.Answer{To: Path + "?day=" + url.QueryEscape(r.PostForm.Get("day"))}, nil
}
