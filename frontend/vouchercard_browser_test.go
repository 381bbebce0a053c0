package frontend

import (
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"flitchbook/frontend/browsertest"
)

// present buys a voucher on the pages and returns its page's address and its code.
func (o *office) present(once string, more url.Values) (page, code string) {
	o.t.Helper()
	v := url.Values{"kind": {"seat"}, "class_kind": {"bacon"}, "name": {"Ulla F."}, "email": {"ulla@post.example.test"}, "once": {once}}
	for name, values := range more {
		v[name] = values
	}
	w := o.post("/vouchers", v)
	page = w.Header().Get("Location")
	if w.Code != 303 || !strings.HasPrefix(page, "/vouchers/") {
		o.t.Fatalf("the present: %d to %q\n%s", w.Code, page, w.Body)
	}
	return page, strings.TrimPrefix(page, "/vouchers/")
}

// A voucher's card in true size, A5 (ISO 216: 210 × 148 mm) or half a Letter (8.5 × 5.5 in):
// one sheet, everything 10 mm from its edges, the kind of seat without what it costs, the
// code in letters and for a scanner. However long the names are.
func TestVoucherCardInPrint(t *testing.T) {
	o := street(t)
	long := strings.Repeat("Wilhelmina-", 7)
	seat, seatCode := o.present("s", url.Values{"receiver": {"Dad"}})
	money, moneyCode := o.present("m", url.Values{"kind": {"money"}, "amount": {"47.50"}})
	wordy, wordyCode := o.present("w", url.Values{"receiver": {long}, "name": {long}, "class_kind": {"pig"}})
	b := browsertest.Start(t, o.e)
	for _, c := range []struct {
		name, page, code string
		says, never      []string
	}{
		{"seat", seat, seatCode, []string{"Corbel Street Butchery", "One seat Bacon-curing class", "Weigh salt, sugar and curing salt for your own slab", "for Dad from Ulla F.", "Good until Mon Oct 20, 2031", "3 Corbel Street, Pellow Crossing", "corbel.example.test"}, []string{"$", "105", "page", "printed"}},
		{"money", money, moneyCode, []string{"$47.50 for a class", "from Ulla F.", "Good until Mon Oct 20, 2031"}, []string{"for Dad"}},
		{"wordy", wordy, wordyCode, []string{"One seat Pig butchery clinic", "Good until Mon Oct 20, 2031"}, []string{"$", "165"}},
	} {
		for paper, size := range map[string][2]float64{"a5": {210, 148}, "half-letter": {8.5 * 25.4, 5.5 * 25.4}} {
			t.Run(c.name+" "+paper, func(t *testing.T) {
				tab := b.Tab(t, browsertest.Desk)
				tab.Open(c.page + "/card?paper=" + paper)
				tab.Axe()
				pdf := tab.PDF("voucher-"+c.name+"-"+paper, browsertest.A4) // the card's own size wins over the printer's
				sheets := browsertest.Sheets(t, pdf)
				if len(sheets) != 1 {
					t.Fatalf("%d sheets, want one card", len(sheets))
				}
				s := sheets[0]
				if d := s.Width - size[0]; d < -0.5 || d > 0.5 {
					t.Errorf("%.1f mm wide, want %.1f", s.Width, size[0])
				}
				if d := s.Height - size[1]; d < -0.5 || d > 0.5 {
					t.Errorf("%.1f mm high, want %.1f", s.Height, size[1])
				}
				for _, w := range s.Words {
					if w.Left < 9.7 || w.Top < 9.7 || w.Right > s.Width-9.7 || w.Foot > s.Height-9.7 {
						t.Errorf("%q stands within 10 mm of the edge: %+v", w.Text, w)
					}
				}
				text := s.Text()
				for _, w := range append(c.says, c.code) {
					if !strings.Contains(text, w) {
						t.Errorf("does not say %q: %s", w, text)
					}
				}
				for _, w := range c.never {
					if strings.Contains(text, w) {
						t.Errorf("says %q: %s", w, text)
					}
				}
				if got, want := browsertest.Codes(t, pdf), []string{"QR-Code:https://corbel.example.test" + c.page}; !slices.Equal(got, want) {
					t.Errorf("zbar reads %q, want %q", got, want)
				}
			})
		}
	}
	b.On(t, "voucher-card", wordy+"/card", 0, []browsertest.Screen{browsertest.Narrow, browsertest.Phone})
	// Scanned: a day is chosen on the voucher's page, and the code goes along to where one pays.
	t.Run("scanned", func(t *testing.T) {
		tab := b.Tab(t, browsertest.Phone)
		tab.Open(seat)
		tab.Shot("voucher-scanned")
		tab.Do(chromedp.Click(chromedp.CSS(`.days a[href*="/B7/"]`)), chromedp.WaitVisible(chromedp.CSS("input[name=email]")))
		browsertest.Eval[bool](tab, `(() => { const f = document.querySelector("#book").elements; f.name.value = "Dad F."; f.email.value = "dad@post.example.test"; return true; })()`)
		tab.Do(chromedp.Click(chromedp.CSS(`.actions button[value=book]`)), chromedp.WaitVisible(chromedp.CSS("input[name=codes]")))
		if got := browsertest.Eval[string](tab, `document.querySelector("input[name=codes]").value`); got != seatCode {
			t.Errorf("the code came along as %q, want %q", got, seatCode)
		}
		if got := browsertest.Eval[string](tab, `document.querySelector("main").innerText`); !strings.Contains(got, "Confirm: nothing to pay") {
			t.Errorf("the seat is not covered: %s", got)
		}
		tab.Do(chromedp.Click(chromedp.CSS(`.actions button:not(.quiet)`)), chromedp.WaitVisible(chromedp.CSS(`main a[href$="/leave"]`)))
		o.has(seat, nil, 200, "It has been used.")
		o.has(seat+"/card", nil, 200, "This voucher has been used", "There is no card to print")
	})
}
