package main

import (
	"net/http"
	"net/http/httputil"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"flitchbook/frontend/browsertest"
)

// through is the house as a browser sees it after somebody has signed in.
func (v *visitor) through() http.Handler {
	v.t.Helper()
	to, err := url.Parse(v.url)
	if err != nil {
		v.t.Fatal(err)
	}
	return &httputil.ReverseProxy{Transport: v.http.Transport, Rewrite: func(r *httputil.ProxyRequest) {
		r.SetURL(to)
		r.Out.Host = r.In.Host // forms are held against the address they stand on
		for _, c := range v.http.Jar.Cookies(to) {
			r.Out.AddCookie(c)
		}
	}}
}

// recordsHouse is the invented shop on Thu Nov 19 with something on every page of its
// records: a case of lost tags, a drill, ground beef, a recalled lot.
func recordsHouse(t *testing.T) (*house, *visitor) {
	t.Helper()
	h := storyAt(t, "", "2026-11-19 13:00")
	odile := h.signedIn(t, "odile")
	id := dig(odile.ask(http.MethodPost, "/api/v1/lost-tags", `{"tags":["B5-02","B5-03","B5-07"],"in":11,"out":11}`, http.StatusOK), "id")
	for _, p := range []struct {
		path string
		form url.Values
	}{
		{"/staff/lost/" + id + "/pieces", url.Values{"letter": {"X", "Y", "Z"}, "drainedX": {"4.90"}, "spiceX": {"MH"}, "drainedY": {"4.26"}, "spiceY": {"PB"}, "drainedZ": {"4.25"}, "spiceZ": {"PB"}}},
		{"/staff/drills", url.Values{}},
		{"/staff/grind", url.Values{"weight": {"12.5"}, "material1": {"chuck trim, 80/20 coarse ground, from the case that came on Tuesday"}, "establishment1": {"EST. 0000-DEMO"}, "lot1": {"CT-2026-11-17-0034"}, "made1": {"2026-11-16"}}},
	} {
		if res, body := odile.post(p.path, p.form); res.StatusCode != http.StatusSeeOther {
			t.Fatalf("%s: %d %s", p.path, res.StatusCode, said(body))
		}
	}
	return h, odile
}

// The pages of the records, the smokehouse and the books, full of the invented season, on a
// small phone and a desk: nothing too wide, nothing a screen reader stumbles over, nothing
// to press smaller than 48 px (WCAG 2.2 asks 24, 2.5.8; hands here are wet). And on paper.
func TestRecordsInABrowser(t *testing.T) {
	h, odile := recordsHouse(t)
	t.Run("pages", func(t *testing.T) { recordPages(t, h, odile) })
	t.Run("prints", func(t *testing.T) { recordPrints(t, h, odile) })
}

func recordPages(t *testing.T, h *house, odile *visitor) {
	log := odile.ask(http.MethodGet, "/api/v1/loads/2026-11-13/log", "", http.StatusOK)
	line := dig(log["lines"].([]any)[0], "id")
	k16, err := h.BookingByNumber(t.Context(), 16)
	if err != nil {
		t.Fatal(err)
	}
	slab := "/s/" + k16.SlabSecret
	b := browsertest.Start(t, odile.through())
	pages := []struct{ name, path string }{
		{"rooms", "/staff/rooms"}, {"room", "/staff/rooms/cure"}, {"room-warm", "/staff/rooms/cure?from=2026-11-07&days=3"},
		{"trace", "/staff/trace"}, {"trace-many", "/staff/trace?q=pepper"}, {"trace-none", "/staff/trace?q=zzz"}, {"trace-lot", odile.only("P-117")}, {"trace-slab", odile.only("B4-03")},
		{"days", "/staff/days"}, {"day", "/staff/days/2026-11-06"},
		{"drills", "/staff/drills"}, {"drill", "/staff/drills/1"}, {"grind", "/staff/grind"}, {"lots", "/staff/lots"}, {"records", "/staff/records"},
		{"smoke", "/staff/smoke"}, {"smoke-day", "/staff/smoke/2026-11-20"}, {"smoke-log", "/staff/smoke/2026-11-13/log"}, {"smoke-line", "/staff/smoke/2026-11-13/lines/" + line},
		{"sealing", "/staff/classes/B6/sealing"}, {"rack", "/staff/rack"}, {"holds", "/staff/holds"},
		{"lost", "/staff/lost"}, {"lost-case", "/staff/lost/1"}, {"leaker", "/staff/bench?tag=B6-02"}, {"kept-slab", "/staff/slabs/B6-02"},
		{"limits", "/owner/limits"}, {"ledger", "/owner/ledger"}, {"booking-ledger", "/staff/bookings/44/ledger"},
		{"my-slab", slab}, {"again", slab + "/again"},
	}
	for _, p := range pages {
		if res, body := odile.get(p.path); res.StatusCode != http.StatusOK {
			t.Errorf("%s: %d %s", p.path, res.StatusCode, said(body))
		}
		b.On(t, p.name, p.path, 48, []browsertest.Screen{browsertest.SmallPhone, browsertest.Desk})
	}
	t.Run("private-asked", func(t *testing.T) {
		tab := b.Tab(t, browsertest.Phone)
		tab.Open("/private")
		browsertest.Eval[bool](tab, `(() => {
			const f = document.querySelector("form[method=post]");
			for (const [name, v] of Object.entries({heads: "20", name: "Wren P.", email: "wren@post.example.test"})) f.elements[name].value = v;
			for (const name of ["offer", "day"]) { const e = f.elements[name]; if (e.options) e.selectedIndex = 1; else (e[0] || e).checked = true; }
			return true;
		})()`)
		tab.Do(chromedp.Click(chromedp.CSS("form[method=post] button")), chromedp.WaitVisible(chromedp.CSS("main:not(:has(form)) h1")))
		if got := browsertest.Eval[string](tab, "document.title"); !strings.Contains(got, "We have your question") {
			t.Fatalf("asked, and then: %s", got)
		}
		tab.Shot("private-asked")
		tab.Fits()
		tab.Axe()
	})
}

// recordPrints: what is printed fits A4 and US Letter, each sheet with its head and number.
func recordPrints(t *testing.T, h *house, odile *visitor) {
	b := browsertest.Start(t, odile.through())
	for _, p := range []struct {
		name, path string
		sheets     int // at most
		says       []string
		codes      func() []string // what a scanner reads on it
	}{
		{"day", "/staff/days/2026-11-06", 9, []string{"146"}, nil},
		{"day-warm", "/staff/days/2026-11-08", 9, []string{"44.8"}, nil},
		{"room", "/staff/rooms/cure/sheet", 3, nil, nil},
		{"trace-lot", odile.only("P-117") + "/sheet", 1, []string{"P-117"}, nil},
		{"trace-slab", odile.only("B4-03") + "/sheet", 2, []string{"B4-03"}, nil},
		{"grind", "/staff/grind/sheet", 2, []string{"CT-2026-11-17-0034"}, nil},
		{"smoke", "/staff/smoke/2026-11-13/sheet", 3, []string{"parties whole", "Probe 3", "135.0 °F to 70.0 °F within 2 hours", "oak"}, nil},
		{"smoke-ahead", "/staff/smoke/2026-11-20/sheet", 2, []string{"Wood", "Warmest core"}, nil},
		{"class", "/staff/classes/B6/sheet", 3, []string{"Seal order"}, nil},
		{"kit", "/staff/classes/B6/kitlist", 3, nil, nil},
		{"cards", "/staff/classes/B6/cards", 3, []string{"cook it", "Ready about"}, func() []string {
			cards, err := h.TakeHome(t.Context(), "B6")
			if err != nil || len(cards) == 0 {
				t.Fatalf("%d cards, %v", len(cards), err)
			}
			var out []string
			for _, c := range cards {
				out = append(out, "QR-Code:"+c.Link)
			}
			return out
		}},
		{"strip", "/staff/shelf/strip", 3, nil, func() []string {
			places, err := h.ShelfPlaces(t.Context())
			if err != nil || len(places) == 0 {
				t.Fatalf("%d places, %v", len(places), err)
			}
			var out []string
			for _, p := range places {
				out = append(out, "CODE-128:"+p.Place)
			}
			return out
		}},
	} {
		t.Run(p.name, func(t *testing.T) {
			for paper, size := range map[string]chromedp.PaperSize{"a4": browsertest.A4, "letter": browsertest.Letter} {
				tab := b.Tab(t, browsertest.Desk)
				tab.Open(p.path)
				pdf := tab.PDF(p.name+"-"+paper, size)
				sheets := browsertest.Printed(t, pdf, size)
				text := ""
				for i, s := range sheets {
					for _, w := range s.Words {
						// Four cards of A6 or of a quarter Letter: no word lies on a cut.
						across := w.Left < s.Width/2 && w.Right > s.Width/2 || w.Top < s.Height/2 && w.Foot > s.Height/2
						if p.name == "cards" && across {
							t.Errorf("%s sheet %d: %q lies across a cut", paper, i+1, w.Text)
						}
					}
					text += s.Text() + " "
				}
				for _, w := range p.says {
					if !strings.Contains(text, w) {
						t.Errorf("%s does not say %q: %s", paper, w, text)
					}
				}
				if p.codes != nil {
					got := browsertest.Codes(t, pdf)
					slices.Sort(got)
					want := p.codes()
					slices.Sort(want)
					if !slices.Equal(got, want) {
						t.Errorf("%s: zbar reads %q, want %q", paper, got, want)
					}
				}
				if len(sheets) > p.sheets {
					t.Errorf("%d sheets of %s, want %d at most", len(sheets), paper, p.sheets)
				}
			}
		})
	}
}

// Whoever missed a class finds on both pages how to choose the spice of the slab kept.
func TestMissedInABrowser(t *testing.T) {
	h := storyAt(t, "", "2026-10-24 16:00")
	v := h.visitor(t)
	at := h.bookingPage(t, 15)
	b := browsertest.Start(t, v.through())
	for name, path := range map[string]string{"missed": at, "missed-spice": guestPath(person(t, v.own(at), "Anselm"))} {
		v.reads(path, "We missed you")
		for size, s := range map[string]browsertest.Screen{"360": browsertest.SmallPhone, "320": browsertest.Narrow} {
			tab := b.Tab(t, s)
			tab.Open(path)
			tab.Shot(name + "-" + size)
			tab.Fits()
			tab.Axe()
			tab.Target("main form, main .actions", 48)
		}
	}
}
