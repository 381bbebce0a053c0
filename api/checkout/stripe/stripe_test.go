package stripe

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stripe/stripe-go/v85/webhook"

	"flitchbook/api/checkout"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

// mock starts the provider's own offline stand-in for its interface (stripe-mock, its
// version in testdata/tools/go.mod), which refuses requests its published description does
// not allow, and returns its address.
func mock(t *testing.T) string {
	t.Helper()
	out, err := exec.Command("go", "tool", "-modfile=../../../testdata/tools/go.mod", "-n", "stripe-mock").Output()
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("stripe-mock cannot be built: in CI the check against the provider's own stand-in may not be left out: %v", err)
		}
		t.Skipf("NOT CHECKED against the provider's own stand-in: stripe-mock cannot be built here: %v", err)
	}
	var ports [2]string
	for i := range ports {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		ports[i] = l.Addr().String()
		if err := l.Close(); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command(strings.TrimSpace(string(out)), "-http-addr", ports[0], "-https-addr", ports[1])
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := cmd.Process.Kill(); err != nil {
			t.Error(err)
		}
		_ = cmd.Wait() // it was killed
	})
	for range 300 {
		if c, err := net.Dial("tcp", ports[0]); err == nil {
			c.Close()
			return "http://" + ports[0]
		}
		<-time.After(100 * time.Millisecond)
	}
	t.Fatal("stripe-mock does not listen after 30 s")
	return ""
}

// TestAgainstTheProvidersStandIn sends everything the shop ever asks to the provider's own
// offline stand-in, which checks it against the published description of the interface.
func TestAgainstTheProvidersStandIn(t *testing.T) {
	api := mock(t)
	p := New(Config{Key: "sk_test_123", WebhookSecret: "whsec_x", API: api})
	ctx := context.Background()
	b, err := p.Begin(ctx, checkout.Order{Key: "k1", ID: 7, Cents: 95_00, Words: "Booking K28: Bacon", Email: "nerys@post.example.test",
		Done: "https://corbel.example.test/b/x/paid", Back: "https://corbel.example.test/b/x/pay"})
	// The stand-in answers with what its fixtures hold; a page's address is not among it.
	if err == nil && (b.Ref == "" || b.URL == "") || err != nil && !strings.Contains(err.Error(), "without a page") {
		t.Errorf("Begin = %+v, %v", b, err)
	}
	if r, err := p.Look(ctx, "cs_test_1"); err != nil || r.State == "" {
		t.Errorf("Look = %+v, %v", r, err)
	}
	r, err := p.Refund(ctx, shop.Refund{Key: "refund/1", Cents: 47_50}, "pi_1")
	if err != nil || r.Ref == "" || r.State != shop.RefundDone {
		t.Errorf("Refund = %+v, %v", r, err)
	}
	if r, err := p.Refund(ctx, shop.Refund{Key: "refund/1", Cents: 47_50, Ref: "re_1"}, "pi_1"); err != nil || r.State == "" {
		t.Errorf("asking after a refund: %+v, %v", r, err)
	}
	if _, err := New(Config{Key: "nonsense", API: api}).Look(ctx, "cs_1"); err == nil {
		t.Error("a key that is none opened the door")
	}
}

// What is sent: the sum in cents, one key for one order, no more of the payer than the
// address for the receipt; and the answers as the provider documents them.
func TestWhatIsAskedAndAnswered(t *testing.T) {
	var got *http.Request
	var form string
	answer, status := "", 200
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := r.ParseForm(); err != nil {
			t.Error(err)
		}
		got, form = r, r.PostForm.Encode()
		w.WriteHeader(status)
		fmt.Fprint(w, answer)
	}))
	defer srv.Close()
	p := New(Config{Key: "sk_test_1", API: srv.URL})
	ctx := context.Background()
	answer = `{"id":"cs_1","url":"https://checkout.stripe.com/c/pay/cs_1"}`
	b, err := p.Begin(ctx, checkout.Order{Key: "begin/7", ID: 7, Cents: 210_00, Words: "Booking K28", Ends: 1790000000, Done: "https://a.test/d", Back: "https://a.test/b"})
	if err != nil || b != (checkout.Begun{Ref: "cs_1", URL: "https://checkout.stripe.com/c/pay/cs_1"}) {
		t.Errorf("Begin = %+v, %v", b, err)
	}
	if got.Header.Get("Idempotency-Key") != "begin/7" || got.Header.Get("Authorization") != "Bearer sk_test_1" ||
		!strings.Contains(form, "line_items%5B0%5D%5Bprice_data%5D%5Bunit_amount%5D=21000") || !strings.Contains(form, "mode=payment") || !strings.Contains(form, "expires_at=1790000000") || strings.Contains(form, "customer") {
		t.Errorf("asked %s with %q", form, got.Header.Get("Idempotency-Key"))
	}
	for body, want := range map[string]shop.CheckoutResult{
		`{"id":"cs_1","status":"open","payment_status":"unpaid"}`:                                                                {State: shop.CheckoutOpen},
		`{"id":"cs_1","status":"complete","payment_status":"unpaid"}`:                                                            {State: shop.CheckoutOpen}, // a bank's debit on its way
		`{"id":"cs_1","status":"expired","payment_status":"unpaid"}`:                                                             {State: shop.CheckoutEnded},
		`{"id":"cs_1","status":"complete","payment_status":"paid","amount_total":9500,"currency":"usd","payment_intent":"pi_1"}`: {State: shop.CheckoutPaid, Cents: 95_00, PaymentRef: "pi_1"},
	} {
		answer = body
		if r, err := p.Look(ctx, "cs_1"); err != nil || r != want {
			t.Errorf("%s: %+v, %v; want %+v", body, r, err, want)
		}
	}
	for _, body := range []string{
		`{"id":"cs_1","status":"complete","payment_status":"paid","amount_total":9500,"currency":"jpy","payment_intent":"pi_1"}`,
		`{"id":"cs_1","status":"complete","payment_status":"paid","amount_total":9500,"currency":"usd"}`,
	} {
		answer = body
		if r, err := p.Look(ctx, "cs_1"); err == nil {
			t.Errorf("%s was taken as %+v", body, r)
		}
	}
	answer = `{"id":"re_1","status":"pending"}`
	if r, err := p.Refund(ctx, shop.Refund{Key: "refund/1", Cents: 47_50}, "pi_1"); err != nil || r != (store.RefundResult{Ref: "re_1", State: shop.RefundSent}) {
		t.Errorf("Refund = %+v, %v", r, err)
	}
	if got.Header.Get("Idempotency-Key") != "refund/1" || !strings.Contains(form, "amount=4750") || !strings.Contains(form, "payment_intent=pi_1") {
		t.Errorf("asked %s", form)
	}
	answer = `{"id":"re_1","status":"failed","failure_reason":"expired_or_canceled_card"}`
	if r, err := p.Refund(ctx, shop.Refund{Ref: "re_1"}, "pi_1"); err != nil || r.State != shop.RefundFailed || r.Why != "the provider says: failed expired or canceled card" {
		t.Errorf("a failed one: %+v, %v", r, err)
	}
	answer, status = `{"error":{"type":"invalid_request_error","code":"charge_already_refunded","message":"Nerys D. has it"}}`, 400
	if _, err := p.Refund(ctx, shop.Refund{Key: "refund/1", Cents: 1}, "pi_1"); !errors.Is(err, store.ErrRefundRefused) || strings.Contains(err.Error(), "Nerys") {
		t.Errorf("a no for good: %v", err)
	}
	for _, s := range []int{401, 429, 500, 503} {
		answer, status = `{"error":{"type":"api_error","message":"x"}}`, s
		if _, err := p.Refund(ctx, shop.Refund{Key: "refund/1", Cents: 1}, "pi_1"); err == nil || errors.Is(err, store.ErrRefundRefused) {
			t.Errorf("%d: %v; it may go better later", s, err)
		}
	}
}

const secret = "whsec_of the test"

func event(kind string, object any) []byte {
	o, err := json.Marshal(object)
	if err != nil {
		panic(err)
	}
	return fmt.Appendf(nil, `{"id":"evt_1","object":"event","type":%q,"api_version":"2020-01-01","data":{"object":%s}}`, kind, o)
}

// TestNoticesAreTheProviders signs notices with the library's own signer for tests.
func TestNoticesAreTheProviders(t *testing.T) {
	p := New(Config{Key: "sk_test_1", WebhookSecret: secret})
	paid := map[string]any{"id": "cs_1", "object": "checkout.session", "status": "complete", "payment_status": "paid", "amount_total": 95_00, "currency": "usd", "payment_intent": "pi_1"}
	body := event("checkout.session.completed", paid)
	signed := func(body []byte, secret string, at time.Time) string {
		return webhook.GenerateTestSignedPayload(&webhook.UnsignedPayload{Payload: body, Secret: secret, Timestamp: at}).Header
	}
	n, err := p.Read(body, signed(body, secret, time.Now()))
	if err != nil || n.Ref != "cs_1" || n.Result != (shop.CheckoutResult{State: shop.CheckoutPaid, Cents: 95_00, PaymentRef: "pi_1"}) {
		t.Errorf("a paid one: %+v, %v", n, err)
	}
	other := event("checkout.session.completed", map[string]any{"id": "cs_1", "payment_status": "paid", "amount_total": 1})
	for what, header := range map[string]string{
		"no signature":              "",
		"nonsense":                  "t=1,v1=zz",
		"another secret":            signed(body, "whsec_other", time.Now()),
		"another body":              signed(other, secret, time.Now()),
		"six minutes old":           signed(body, secret, time.Now().Add(-6*time.Minute)),
		"of an older kind (v0)":     strings.Replace(signed(body, secret, time.Now()), "v1=", "v0=", 1),
		"only the time was changed": "t=" + fmt.Sprint(time.Now().Unix()) + signed(body, secret, time.Now().Add(-time.Hour))[len("t=1234567890"):],
	} {
		if n, err := p.Read(body, header); !errors.Is(err, checkout.ErrForged) {
			t.Errorf("%s: %+v, %v", what, n, err)
		}
	}
	for kind, want := range map[string]checkout.Notice{
		"checkout.session.expired":              {Ref: "cs_1", Result: shop.CheckoutResult{State: shop.CheckoutEnded}},
		"checkout.session.async_payment_failed": {Ref: "cs_1", Result: shop.CheckoutResult{State: shop.CheckoutEnded}},
		"customer.created":                      {},
	} {
		b := event(kind, paid)
		if n, err := p.Read(b, signed(b, secret, time.Now())); err != nil || n != want {
			t.Errorf("%s: %+v, %v", kind, n, err)
		}
	}
	b := event("refund.failed", map[string]any{"id": "re_1", "object": "refund", "status": "failed", "failure_reason": "declined", "metadata": map[string]string{keyName: "refund/1"}})
	if n, err := p.Read(b, signed(b, secret, time.Now())); err != nil || n.RefundKey != "refund/1" || n.Refund.State != shop.RefundFailed {
		t.Errorf("a refund that failed: %+v, %v", n, err)
	}
	b = event("refund.created", map[string]any{"id": "re_2", "object": "refund", "status": "succeeded"})
	if n, err := p.Read(b, signed(b, secret, time.Now())); err != nil || n.RefundKey != "" || n.Ref != "" {
		t.Errorf("a refund made on the provider's own pages: %+v, %v", n, err)
	}
}
