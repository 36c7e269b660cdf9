package share

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"icehand/internal/base/markup"

	"icehand/internal/base/fault"
)

// Font is the typeface that a page carries along, as WOFF2; without it the reader's own serves.
type Font struct{ Regular, Bold []byte }

// Page writes the report as one HTML file that loads nothing: type and pictures are inside. It prints on two sheets.
func (r Report) Page(f Font) ([]byte, error) {
	if !r.built {
		return nil, fault.New(fault.Internal, "", "a report is written before it was checked")
	}
	v := pageOf(r)
	v.Style = style(f)
	var b bytes.Buffer
	if err := reportPage(v).Render(&b); err != nil {
		return nil, fmt.Errorf("share: writing the report: %w", err)
	}
	return b.Bytes(), nil
}

// pageView holds the finished strings of a report.
type pageView struct {
	Title, Outfit, Lake, Day string
	Style                    string
	InWords                  []string
	Words                    string
	Chill                    string
	People                   []row
	Total                    row
	Lead                     *picture
	Kinds                    []kind
	Photos                   []picture
	Firsts                   []certificate
	FirstsOf                 string // how many, for the grid
	Again                    []string
	Next                     string
	Second                   bool // there is a second sheet
}

type row struct{ Name, Kept, Back, Biggest string }

type picture struct{ Src, Alt, Caption, Width, Height string }

type kind struct {
	Name, Text, Biggest string
	Bars                []bar
}

type bar struct {
	Word, N string
	Width   string // of 100
}

type certificate struct{ Name, Line, Where, When string }

// mostRowsBesidePhoto is how many people leave room for a picture on the first sheet.
const mostRowsBesidePhoto = 8

func pageOf(r Report) pageView {
	v := pageView{Title: r.Title(), Outfit: r.Outfit.String(), Lake: r.Lake.String(), Day: r.Day.Text(), InWords: r.InWords(), Words: r.Words.String(), Chill: r.Weather.chill(r.Units)}
	kept, back := 0, 0
	for _, p := range r.Party {
		x := row{Name: p.Name.String(), Kept: fmt.Sprint(p.Kept), Back: fmt.Sprint(p.PutBack), Biggest: lengthText(r.Units, p.Biggest)}
		if p.Guide {
			if x.Name += ", guide"; p.Kept+p.PutBack == 0 {
				x.Kept, x.Back = "", ""
			}
		}
		if x.Biggest != "" {
			x.Biggest = strings.TrimSpace(p.Of.String() + " " + x.Biggest)
		}
		v.People = append(v.People, x)
	}
	for _, c := range r.Catch {
		kept, back = kept+c.Kept, back+c.PutBack
		v.Kinds = append(v.Kinds, kindOf(r, c))
	}
	v.Total = row{Name: "All together", Kept: fmt.Sprint(kept), Back: fmt.Sprint(back)}
	for i, p := range r.Photos {
		x := picture{Src: "data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(p.Data), Alt: fmt.Sprintf("picture %d of the day", i+1), Caption: p.Caption.String(), Width: fmt.Sprint(p.Width), Height: fmt.Sprint(p.Height)}
		if i == 0 && len(r.Party) <= mostRowsBesidePhoto {
			v.Lead = &x
			continue
		}
		v.Photos = append(v.Photos, x)
	}
	for _, f := range r.Firsts {
		line := "caught a first fish: " + f.Species.String()
		if l := lengthText(r.Units, f.Length); l != "" {
			line += ", " + l
		}
		v.Firsts = append(v.Firsts, certificate{f.Name.String(), line, r.Lake.String(), r.Day.Text()})
	}
	v.FirstsOf = fmt.Sprintf("of-%d", min(len(v.Firsts), 2))
	for _, a := range r.Again {
		v.Again = append(v.Again, fmt.Sprintf("%s: winter %d with us, %d days, %d fish.", a.Name, a.Winter, a.Days, a.Fish))
	}
	if !r.Next.None() {
		v.Next = "We keep " + r.Next.Text() + " for you."
	}
	v.Second = len(v.Kinds)+len(v.Photos)+len(v.Firsts)+len(v.Again) > 0
	return v
}

// kindOf draws how large the fish of a kind were, in the guide's three classes.
func kindOf(r Report, c Catch) kind {
	k := kind{Name: heading(c.Species.String()), Text: fmt.Sprintf("%d kept, %d put back", c.Kept, c.PutBack), Biggest: lengthText(r.Units, c.Biggest)}
	if k.Biggest != "" {
		k.Biggest = "The biggest: " + k.Biggest + "."
	}
	most := max(c.Sizes.Small, c.Sizes.Good, c.Sizes.Big)
	if most == 0 {
		return k
	}
	for _, x := range []struct {
		word string
		n    int
	}{{"small", c.Sizes.Small}, {"good", c.Sizes.Good}, {"big", c.Sizes.Big}} {
		k.Bars = append(k.Bars, bar{x.word, fmt.Sprint(x.n), fmt.Sprint(x.n * 100 / most)})
	}
	return k
}

// heading makes the first letter large.
func heading(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

// style is the page's look: black on white, one column, two sheets of A4 or letter paper.
func style(f Font) string {
	face := func(weight string, b []byte) string {
		if len(b) == 0 {
			return ""
		}
		return `@font-face{font-family:"Report";font-weight:` + weight + `;src:url(data:font/woff2;base64,` + base64.StdEncoding.EncodeToString(b) + `) format("woff2")}`
	}
	return face("400", f.Regular) + face("700", f.Bold) + sheetStyle
}

const sheetStyle = `
*{box-sizing:border-box}
html{font:400 17px/1.4 "Report",system-ui,sans-serif;font-variant-numeric:tabular-nums;color:#000;background:#fff;-webkit-text-size-adjust:100%}
body{margin:0 auto;max-width:44rem;padding:1rem}
h1{font-size:2.2rem;line-height:1.1;margin:0}
h2{font-size:1.2rem;line-height:1.2;margin:1.6rem 0 .5rem;border-top:3px solid #000;padding-top:.5rem}
p{margin:0 0 .6rem}
.outfit{display:flex;justify-content:space-between;gap:1rem;border-bottom:3px solid #000;padding-bottom:.4rem;margin-bottom:1.2rem}
.day{font-size:1.3rem;margin:.2rem 0 1.2rem}
.told{display:flex;gap:1.6rem;align-items:flex-start}
.told>div:first-child{flex:1}
.told p{font-size:1.2rem}
.chill{border:3px solid #000;padding:.5rem .9rem;text-align:center;white-space:nowrap}
.chill strong{display:block;font-size:2.2rem;line-height:1.1}
blockquote{margin:.6rem 0 1rem;padding-left:1rem;border-left:5px solid #000}
table{width:100%;border-collapse:collapse}
th,td{text-align:left;padding:.28rem .5rem .28rem 0;border-bottom:1px solid #000;vertical-align:baseline}
th{font-weight:400}
thead th{border-bottom-width:2px}
td.n,th.n{text-align:right;width:6rem}
td.n strong{font-size:1.2rem}
tr.all td{border-bottom:0;font-weight:700}
figure{margin:1rem 0 0}
figure img{display:block;width:100%;height:auto;max-height:95mm;object-fit:contain;object-position:left}
.photos{display:grid;grid-template-columns:repeat(2,1fr);gap:.8rem}
.photos figure{margin:0}
figcaption{padding-top:.2rem}
.bars{display:grid;grid-template-columns:4rem 1fr;gap:.15rem .6rem;align-items:center}
.bars svg{display:block;width:100%;height:1.1rem}
.bars span{display:flex;gap:.5rem;align-items:center}
.bars b{min-width:2rem}
.firsts{display:grid;gap:.8rem;margin-top:1.2rem}
.firsts.of-2{grid-template-columns:repeat(auto-fit,minmax(17rem,1fr))}
.first{border:3px double #000;outline:1px solid #000;outline-offset:4px;margin:6px;padding:1rem;text-align:center;break-inside:avoid}
.first svg{width:8rem;height:auto}
.first .who{font-size:1.7rem;line-height:1.15;font-weight:700;margin:.2rem 0}
.first .sign{display:block;width:11rem;margin:2rem auto 0;border-top:1px solid #000;padding-top:.2rem}
.foot{border-top:1px solid #000;margin-top:1.4rem;padding-top:.5rem;font-size:.85rem}
@media (max-width:34rem){html{font-size:18px}.told{display:block}.chill{display:inline-block;margin-bottom:.6rem}td.n,th.n{width:3.6rem}}
@page{margin:14mm 15mm}
@media print{html{font-size:11.5pt}body{max-width:none;padding:0}.sheet{display:flex;flex-direction:column;height:246mm;break-after:page}.sheet:last-of-type{break-after:auto}.sheet>*{flex:none}
.sheet>.lead{flex:1 1 0;min-height:0}.lead figure,.lead img{height:100%;margin:0;max-height:none}.lead{margin-top:4mm}
.photos{grid-template-columns:repeat(3,1fr)}.photos img{max-height:44mm}tr,figure,.first,.kind{break-inside:avoid}.told{display:flex}.first{padding:.5rem}.first svg{width:6.5rem}.first .sign{margin-top:1.4rem}.foot{margin-top:auto}}
`

// raw puts a style into the page as it stands: it is ours, and holds nothing that anybody typed.
func raw(s string) markup.Piece { return markup.Raw("<style>" + s + "</style>") }
