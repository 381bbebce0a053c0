package main

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stripe/stripe-go/v85/webhook"

	"flitchbook/api/shop"
)

// shopWithB5 serves the furnished shop on Tue Oct 20, 20:10, with B5 on sale at $105.00.
func shopWithB5(t *testing.T, database string, more ...option) *house {
	t.Helper()
	h := openHouse(t, database, defaults(), nil, more...)
	if _, err := h.AddClass(t.Context(), keeper, shop.NewClass{Code: "B5", Kind: "bacon", StartsAt: 1794081600, MinSeats: -1, DemoSlabs: -1}); err != nil { // Sat Nov 7, 14:00
		t.Fatal(err)
	}
	if err := h.Publish(t.Context(), keeper, "B5"); err != nil {
		t.Fatal(err)
	}
	h.Clock.Set(1792545000) // Tue Oct 20, 20:10
	return h
}

func hidden(t *testing.T, page, name string) string {
	t.Helper()
	_, rest, ok := strings.Cut(page, `name="`+name+`" value="`)
	if !ok {
		t.Fatalf("no hidden %s in the page", name)
	}
	value, _, _ := strings.Cut(rest, `"`)
	return value
}

// Nerys (house outcome M1) pays on her phone, on the provider's page: two seats of B5 at
// $105.00. Forged and old notices change nothing, the true one makes the seats firm however
// often it comes, and an end told after the money means nothing.
func TestStoryPaidOnline(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		town := openPayTown(t)
		h := shopWithB5(t, database, town.provider())
		phone := h.visitor(t)
		out := phone.ask(http.MethodPost, "/api/v1/classes/B5/bookings", `{"name":"Nerys D.","email":"nerys@post.example.test","people":[{"payer":true,"seat":"slab"},{"seat":"slab"}]}`, http.StatusOK)
		home := dig(out, "link")
		home = home[strings.Index(home, "/b/"):]
		res, page := phone.get(home + "/pay")
		if text := said(page); !strings.Contains(text, "To pay $210.00") || !strings.Contains(text, "Your card's number never reaches the shop") {
			t.Errorf("the page for paying says: %s", text)
		}
		if csp := res.Header.Get("Content-Security-Policy"); !strings.Contains(csp, "form-action 'self' https://pay.example.test;") {
			t.Errorf("the policy does not let the form lead to the provider: %s", csp)
		}
		// The provider is away: plain words, what was typed kept, seats held, nothing taken.
		town.closed(true)
		res, page = phone.post(home+"/till", url.Values{"once": {hidden(t, page, "once")}, "codes": {""}})
		if text := said(page); res.StatusCode != http.StatusServiceUnavailable || !strings.Contains(text, "The page for paying cannot be reached this moment. Nothing was taken.") || !strings.Contains(text, "We hold these seats until") {
			t.Errorf("with the provider away: %d %s", res.StatusCode, text)
		}
		town.closed(false)
		once := hidden(t, page, "once")
		res, _ = phone.post(home+"/till", url.Values{"once": {once}})
		if to := res.Header.Get("Location"); res.StatusCode != http.StatusSeeOther || to != "https://pay.example.test/c/cs_1" {
			t.Fatalf("led to %d %s", res.StatusCode, to)
		}
		if res, _ = phone.post(home+"/till", url.Values{"once": {once}}); res.Header.Get("Location") != "https://pay.example.test/c/cs_1" {
			t.Errorf("the same press led to %s", res.Header.Get("Location"))
		}
		state := func(want string) {
			t.Helper()
			_, page := phone.get(home)
			if !strings.Contains(said(page), want) {
				t.Errorf("her page does not say %q: %s", want, said(page))
			}
		}
		provider := h.visitor(t)
		paid := `{"id":"evt_1","type":"checkout.session.completed","data":{"object":{"id":"cs_1","payment_status":"paid","amount_total":21000,"currency":"usd","payment_intent":"pi"}}}`
		old := webhook.GenerateTestSignedPayload(&webhook.UnsignedPayload{Payload: []byte(paid), Secret: noticeSecret, Timestamp: time.Now().Add(-time.Hour)}).Header
		for what, sig := range map[string]string{"unsigned": "", "forged": "t=1,v1=00", "old": old} {
			if res, _ := provider.json(http.MethodPost, "/checkout/notices", paid, "Stripe-Signature", sig); res.StatusCode != http.StatusBadRequest {
				t.Errorf("%s: %d", what, res.StatusCode)
			}
		}
		state("Pay")
		town.set("cs_1", "paid")
		for _, kind := range []string{"checkout.session.completed", "checkout.session.completed", "checkout.session.expired"} {
			if got := town.tell(provider, kind, "cs_1"); got != http.StatusNoContent {
				t.Errorf("%s: %d", kind, got)
			}
		}
		if got := town.tell(provider, "checkout.session.completed", "cs_of another shop"); got != http.StatusNoContent {
			t.Errorf("a notice about something else: %d", got)
		}
		res, _ = phone.get(home + "/paid")
		if res.StatusCode != http.StatusSeeOther || res.Header.Get("Location") != home {
			t.Errorf("back from paying: %d %s", res.StatusCode, res.Header.Get("Location"))
		}
		state("Thank you. $210.00 is paid")
		h.signedIn(t, "odile").reads("/owner/ledger", "online checkout", "$210.00")
	})
}

// Three seats held while the hold and its grace run out, paid all the same: the money goes
// back by the provider within a moment. Bought presents come the same way.
func TestStoryPaidOnlineTooLateAndAPresent(t *testing.T) {
	eachDatabase(t, func(t *testing.T, database string) {
		town := openPayTown(t)
		h := shopWithB5(t, database, town.provider())
		phone, provider := h.visitor(t), h.visitor(t)
		out := phone.ask(http.MethodPost, "/api/v1/classes/B5/bookings", `{"name":"Nerys D.","email":"nerys@post.example.test","people":[{"payer":true,"seat":"slab"}]}`, http.StatusOK)
		home := dig(out, "link")
		home = home[strings.Index(home, "/b/"):]
		begun := phone.ask(http.MethodPost, "/api/v1/my-booking/"+strings.TrimPrefix(home, "/b/")+"/checkout", `{}`, http.StatusOK)
		if dig(begun, "url") != "https://pay.example.test/c/cs_1" || dig(begun, "owed") != "$105.00" {
			t.Fatalf("begun: %v", begun)
		}
		h.Clock.Add(31 * time.Minute)
		eventually(t, "the seat is let go", func() bool {
			_, page := phone.get(home)
			return strings.Contains(said(page), "let go")
		})
		town.set("cs_1", "paid")
		if got := town.tell(provider, "checkout.session.completed", "cs_1"); got != http.StatusNoContent {
			t.Fatalf("told too late: %d", got)
		}
		eventually(t, "the money went back", func() bool {
			return town.gave("re_1") == 105_00
		})
		// A present: sold when the money comes; here its notice is lost, and the buyer comes back.
		_, page := phone.get("/vouchers")
		res, page := phone.post("/vouchers", url.Values{"once": {hidden(t, page, "once")}, "kind": {"money"}, "amount": {"50"}, "name": {"Ulla"}, "email": {"ulla@post.example.test"}})
		if res.Header.Get("Location") != "https://pay.example.test/c/cs_2" {
			t.Fatalf("led to %d %s: %s", res.StatusCode, res.Header.Get("Location"), said(page))
		}
		town.set("cs_2", "paid")
		var back string
		h.Clock.Add(4 * time.Minute)
		eventually(t, "the voucher is sold", func() bool {
			vs, err := h.FindVouchers(t.Context(), "Ulla")
			if err != nil || len(vs) != 1 || vs[0].Worth != 50_00 {
				return false
			}
			back = vs[0].Code
			return true
		})
		phone.reads("/vouchers/"+back, "voucher")
		h.signedIn(t, "odile").reads("/owner/ledger", "owed on vouchers")
	})
}

func eventually(t *testing.T, what string, is func() bool) {
	t.Helper()
	for range 300 {
		if is() {
			return
		}
		<-time.After(50 * time.Millisecond)
	}
	t.Fatalf("never: %s", what)
}

// Settings that contradict one another, or with which somebody could pay in vain, are refused.
func TestCheckoutSettings(t *testing.T) {
	dir := t.TempDir()
	file := func(name, text string, mode os.FileMode) string {
		f := filepath.Join(dir, name)
		if err := os.WriteFile(f, []byte(text), mode); err != nil {
			t.Fatal(err)
		}
		return f
	}
	key, notice := file("key", "sk_test_1\n", 0o600), file("notice", "whsec_1\n", 0o600)
	open, live, odd := file("open", "sk_test_1", 0o644), file("live", "sk_live_1", 0o600), file("odd", "hello", 0o600)
	good := checkoutConfig{CheckoutCurrency: "usd", CheckoutPages: "https://checkout.stripe.com"}
	with := func(change func(*checkoutConfig)) checkoutConfig { c := good; change(&c); return c }
	https, plain := shopConfig{BaseURL: "https://corbel.example.test"}, shopConfig{BaseURL: "http://corbel.example.test"}
	for _, c := range []struct {
		what string
		set  checkoutConfig
		shop shopConfig
		env  map[string]string
		says string // "": taken
	}{
		{"nothing", good, plain, nil, ""},
		{"both files", with(func(c *checkoutConfig) { c.CheckoutKeyFile, c.CheckoutNoticeFile = key, notice }), https, nil, ""},
		{"both variables", good, https, map[string]string{"FLITCHBOOK_CHECKOUT_KEY": "sk_test_1", "FLITCHBOOK_CHECKOUT_NOTICE_SECRET": "whsec_1"}, ""},
		{"key alone", with(func(c *checkoutConfig) { c.CheckoutKeyFile = key }), https, nil, "people could pay and their seats would not be theirs"},
		{"secret alone", with(func(c *checkoutConfig) { c.CheckoutNoticeFile = notice }), https, nil, "there is no key"},
		{"key twice", with(func(c *checkoutConfig) { c.CheckoutKeyFile, c.CheckoutNoticeFile = key, notice }), https, map[string]string{"FLITCHBOOK_CHECKOUT_KEY": "sk_test_2"}, "given twice"},
		{"key others can read", with(func(c *checkoutConfig) { c.CheckoutKeyFile, c.CheckoutNoticeFile = open, notice }), https, nil, "others can read"},
		{"not a key", with(func(c *checkoutConfig) { c.CheckoutKeyFile, c.CheckoutNoticeFile = odd, notice }), https, nil, "sk_"},
		{"not a secret", with(func(c *checkoutConfig) { c.CheckoutKeyFile, c.CheckoutNoticeFile = key, odd }), https, nil, "whsec_"},
		{"without TLS", with(func(c *checkoutConfig) { c.CheckoutKeyFile, c.CheckoutNoticeFile = key, notice }), plain, nil, "https base URL"},
		{"real money, trial address", with(func(c *checkoutConfig) {
			c.CheckoutKeyFile, c.CheckoutNoticeFile, c.CheckoutAPI = live, notice, "http://127.0.0.1:9"
		}), https, nil, "real money"},
		{"key sent elsewhere", with(func(c *checkoutConfig) {
			c.CheckoutKeyFile, c.CheckoutNoticeFile, c.CheckoutAPI = key, notice, "https://elsewhere.example.test"
		}), https, nil, "on this machine"},
		{"address without key", with(func(c *checkoutConfig) { c.CheckoutAPI = "http://127.0.0.1:9" }), https, nil, "no key"},
		{"pages by plain http", with(func(c *checkoutConfig) {
			c.CheckoutKeyFile, c.CheckoutNoticeFile, c.CheckoutPages = key, notice, "http://pay.example.test"
		}), https, nil, "must be an https address"},
		{"a currency of four letters", with(func(c *checkoutConfig) {
			c.CheckoutKeyFile, c.CheckoutNoticeFile, c.CheckoutCurrency = key, notice, "usdt"
		}), https, nil, "three letters"},
	} {
		_, _, err := c.set.check(c.shop, c.env)
		if c.says == "" && err != nil || c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)) {
			t.Errorf("%s: %v, want %q", c.what, err, c.says)
		}
	}
}
