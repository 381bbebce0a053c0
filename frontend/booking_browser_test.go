package frontend

import (
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"flitchbook/api"
	"flitchbook/frontend/browsertest"
)

// Every customers' page fits the phones and breaks no rule of accessibility (WCAG 2.2 A
// and AA as axe-core checks them).
func TestCustomersPagesInABrowser(t *testing.T) {
	o := street(t)
	o.e.Use(api.Headers(false)) // the policy a browser holds the pages to, JSON-LD included
	held := o.booked("B7", seats("2", "Nerys O.", "held"))
	firm := o.booked("B7", seats("2", "Bo L.", "firm"))
	o.paid(firm)
	last := o.booked("B5", seats("2", "Ignace P.", "last"))
	o.paid(last)
	w := o.post("/classes/B5/wait", seats("1", "Petra W.", "wait"))
	v, err := o.MyBooking(o.Ctx, strings.TrimPrefix(firm, "/b/"))
	o.must(err)
	card := o.post("/vouchers", url.Values{"kind": {"seat"}, "class_kind": {"bacon"}, "name": {"Ulla F."}, "email": {"ulla@post.example.test"}, "once": {"card"}})

	b := browsertest.Start(t, o.e)
	for name, path := range map[string]string{
		"classes": "/", "class": "/classes/B7", "class-full": "/classes/B5", "book-1": "/classes/B7/book", "book-2": "/classes/B7/book?seats=2&watch=1&second=1",
		"book-wrong": "/classes/B7/book?seats=two", "wait": "/classes/B5/wait?seats=1", "pay": held + "/pay", "held": held, "firm": firm, "leave": firm + "/leave", "move": firm + "/move",
		"guest": "/g/" + v.People[1].Secret, "waiting": w.Header().Get("Location"), "vouchers": "/vouchers", "voucher": card.Header().Get("Location"),
		"private": "/private", "data": firm + "/data", "guest-data": "/g/" + v.People[1].Secret + "/data", "calendar": firm + "/calendar", "slab": "/s/" + v.SlabSecret,
		"after": "/g/" + v.People[1].Secret + "/after", "gone": "/b/nobodysnobodysnobodysnobody", "no-such-class": "/classes/ZZ",
	} {
		b.On(t, "customer-"+name, path, 48, []browsertest.Screen{browsertest.Narrow, browsertest.SmallPhone, browsertest.Phone, browsertest.Desk}, func(t *testing.T, tab *browsertest.Tab) {
			if name == "class" {
				kind := browsertest.Eval[string](tab, `JSON.parse(document.querySelector('script[type="application/ld+json"]').textContent)["@type"]`)
				if kind != "Event" {
					t.Errorf("the page's data is of type %q, want schema.org Event", kind)
				}
			}
			if name != "book-2" {
				return
			}
			// The table of foods shows once somebody says there is something.
			if !browsertest.Eval[bool](tab, `document.querySelector(".needs-more").offsetHeight === 0`) {
				t.Error("the table of foods shows before it is asked for")
			}
			tab.Do(chromedp.Click(chromedp.CSS(`input[name="p1_needs"][value="list"]`)))
			if browsertest.Eval[bool](tab, `document.querySelector(".needs-more").offsetHeight === 0`) {
				t.Error("the table of foods does not show")
			}
			tab.Shot("customer-needs-" + strconv.FormatInt(browsertest.Eval[int64](tab, "innerWidth"), 10))
			tab.Fits()
			tab.Axe()
			tab.Open(path) // as it was, for the next screen
		})
	}
}

// press fills and sends the way a person does; keys only.
func press(tab *browsertest.Tab, keys ...string) {
	for _, k := range keys {
		tab.Do(chromedp.KeyEvent(k))
	}
}

// A booking from the season to the confirmation by keyboard alone, with scripts and
// without.
func TestBookingByKeyboard(t *testing.T) {
	for name, scripts := range map[string]bool{"with scripts": true, "without scripts": false, "text at 200 %": true} {
		big := name == "text at 200 %" // WCAG 2.2, 1.4.4: nothing is lost, nothing runs out of the page
		t.Run(name, func(t *testing.T) {
			o := street(t)
			o.e.Use(api.Headers(false))
			b := browsertest.Start(t, o.e)
			tab := b.Tab(t, browsertest.Phone)
			if !scripts {
				tab.NoScript()
			}
			// to tabs on until the element in focus is the one meant.
			to := func(sel string) {
				t.Helper()
				for range 120 {
					if browsertest.Eval[bool](tab, `document.activeElement.matches(`+jsText(sel)+`)`) {
						return
					}
					press(tab, "\t")
				}
				t.Fatalf("%s cannot be reached by keyboard", sel)
			}
			arrive := func(sel string) {
				t.Helper()
				tab.Do(chromedp.WaitVisible(chromedp.CSS(sel)))
				if big {
					if got := browsertest.Eval[string](tab, `document.documentElement.style.fontSize = "200%", getComputedStyle(document.querySelector("main")).fontSize`); got != "32px" && got != "34px" {
						t.Errorf("the text is %s, not twice what it was", got)
					}
					tab.Fits()
				}
				if scripts { // axe-core is a script itself
					tab.Axe()
				}
			}
			tab.Open("/")
			to(`a[href="/classes/B5"]`)
			press(tab, "\r")
			arrive(`a[href="/classes/B5/book"]`)
			to(`a[href="/classes/B5/book"]`)
			press(tab, "\r")
			arrive(`#f-seats`)
			to(`#f-seats`)
			if scripts {
				if got := browsertest.Eval[string](tab, `document.querySelector("[data-total]").textContent`); got != "$210.00" {
					t.Errorf("two seats show %q", got)
				}
			}
			press(tab, "\r")
			arrive(`#f-email`)
			to(`#f-name`)
			tab.Do(chromedp.KeyEvent("Nerys O."))
			to(`#f-email`)
			tab.Do(chromedp.KeyEvent("nerys@post.example.test"))
			to(`form .actions button`)
			press(tab, "\r")
			arrive(`form[action$="/till"]`)
			to(`form[action$="/till"] button`)
			press(tab, "\r")
			arrive(`form[action$="/pay"]`)
			to(`form[action$="/pay"] button`)
			press(tab, "\r")
			arrive(`a[href$="/class.ics"]`)
			if got := browsertest.Eval[string](tab, `document.querySelector("h1").textContent`); got != "You are booked" {
				t.Errorf("the story ends at %q", got)
			}
			page, err := o.ClassPage(o.Ctx, "B5")
			o.must(err)
			if page.Left != 0 {
				t.Errorf("%d seats left", page.Left)
			}
		})
	}
}

func jsText(s string) string { return "`" + s + "`" }
