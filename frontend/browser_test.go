package frontend

import (
	"strings"
	"testing"

	"flitchbook/frontend/browsertest"

	"github.com/chromedp/chromedp"
)

func TestPagesInABrowser(t *testing.T) {
	b := browsertest.Start(t, sampleSite(t))
	for _, tc := range []struct {
		name, path string
		screens    []browsertest.Screen
		side       int64 // smallest side of anything to press, CSS px
	}{
		{"season", "/", []browsertest.Screen{browsertest.Narrow, browsertest.SmallPhone, browsertest.Phone, browsertest.Desk}, 48},
		{"book", "/book", []browsertest.Screen{browsertest.Narrow, browsertest.SmallPhone, browsertest.Phone, browsertest.Desk}, 48},
		{"today", "/staff/today", []browsertest.Screen{browsertest.Narrow, browsertest.SmallPhone, browsertest.Phone, browsertest.Tablet, browsertest.Desk}, 48},
		{"bench", "/staff/bench", []browsertest.Screen{browsertest.SmallPhone, browsertest.Phone, browsertest.Tablet}, 48},
		{"weigh", "/staff/bench/weigh", []browsertest.Screen{browsertest.SmallPhone, browsertest.Phone, browsertest.Tablet}, 48},
		{"lost", "/lost", []browsertest.Screen{browsertest.Phone}, 48},
		{"taken", "/staff/taken", []browsertest.Screen{browsertest.Phone, browsertest.Desk}, 48},
		{"sheet", "/sheet", []browsertest.Screen{browsertest.Desk}, 0},
	} {
		b.On(t, tc.name, tc.path, tc.side, tc.screens)
	}
}

// phoneAndDesk are what the owner's pages are read on.
var phoneAndDesk = []browsertest.Screen{browsertest.SmallPhone, browsertest.Desk}

// TestBenchTargets: 20 mm is 126 px at the 160 px an inch of a phone, 104 px at the
// 132 px an inch of a tablet; 18 pt is 24 px (CSS Values and Units: 1 pt = 1/72 in,
// 1 px = 1/96 in).
func TestBenchTargets(t *testing.T) {
	b := browsertest.Start(t, sampleSite(t))
	for side, s := range map[int64]browsertest.Screen{126: browsertest.Phone, 104: browsertest.Tablet} {
		tab := b.Tab(t, s)
		for _, path := range []string{"/staff/bench", "/staff/bench/weigh"} {
			tab.Open(path)
			tab.Target("main", side)
			for _, small := range browsertest.Eval[[]string](tab, `[...document.querySelectorAll("main *")]
				.filter((el) => !el.closest(".sr") && [...el.childNodes].some((n) => n.nodeType === 3 && n.data.trim()))
				.filter((el) => parseFloat(getComputedStyle(el).fontSize) < 24)
				.map((el) => el.textContent.trim().slice(0, 40) + " " + getComputedStyle(el).fontSize)`) {
				t.Errorf("%s at %d px: smaller than 18 pt: %s", path, s.Width, small)
			}
		}
	}
}

func TestPrints(t *testing.T) {
	b := browsertest.Start(t, sampleSite(t))
	for name, paper := range map[string]chromedp.PaperSize{"a4": browsertest.A4, "letter": browsertest.Letter} {
		for _, large := range []string{"", "?large=1", "?wide=1"} {
			tab := b.Tab(t, browsertest.Desk)
			tab.Open("/sheet" + large)
			pdf := tab.PDF("sheet-"+name+"-"+strings.Trim(large, "?=1"), paper)
			sheets := browsertest.Printed(t, pdf, paper)
			if len(sheets) < 2 {
				t.Errorf("%s: %d sheet; the sample should need more, to show what repeats", name, len(sheets))
			}
			for i, s := range sheets {
				wants := []string{"Corbel Street Butchery", "Kit list B1", "printed Thu Oct 8, 2026, 15:30, version 3"}
				if strings.Contains(s.Text(), "B1-") { // the table goes on: its headings too
					wants = append(wants, "First name", "Curing salt", "Initials")
				}
				for _, want := range wants {
					if !strings.Contains(s.Text(), want) {
						t.Errorf("%s sheet %d does not say %q", name, i+1, want)
					}
				}
			}
		}
	}
}
