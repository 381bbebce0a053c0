package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stripe/stripe-go/v85/webhook"

	"flitchbook/api/checkout/stripe"
)

const (
	noticeSecret = "whsec_of the story"
	payPages     = "https://pay.example.test"
)

// A payTown stands for the payment provider beyond its real adapter: it answers on a real
// connection as its published interface does, shows no page and signs notices as the
// provider's own library does. It lives in the test, so it outlives a program that is killed.
type payTown struct {
	mu       sync.Mutex
	srv      *httptest.Server
	now      func() time.Time    // on whose clock pages end; nil: they do not
	keys     map[string]answered // by idempotency key
	sessions map[string]*townSession
	refunds  map[string]*townRefund
	away     bool
	shut     bool        // the card of every payment is closed: no refund goes through
	faults   *townFaults // nil: it has none
}

type answered struct{ id, form string } // what an idempotency key made, and of what

type townSession struct {
	id, state, ours, done string
	cents, back           int // taken, and given back of it
	ends                  int64
}

type townRefund struct {
	id, session, key, status string
	cents                    int
}

func openPayTown(t *testing.T) *payTown {
	t.Helper()
	p := &payTown{keys: map[string]answered{}, sessions: map[string]*townSession{}, refunds: map[string]*townRefund{}}
	mux := http.NewServeMux()
	mux.HandleFunc("POST /v1/checkout/sessions", p.begin)
	mux.HandleFunc("GET /v1/checkout/sessions/{id}", func(w http.ResponseWriter, r *http.Request) {
		fmt.Fprint(w, p.session(r.PathValue("id")))
	})
	mux.HandleFunc("POST /v1/refunds", p.giveBack)
	mux.HandleFunc("GET /v1/refunds/{id}", func(w http.ResponseWriter, r *http.Request) {
		if b := p.refunds[r.PathValue("id")]; b != nil {
			fmt.Fprint(w, b.json())
			return
		}
		refuse(w, http.StatusNotFound, "invalid_request_error")
	})
	p.srv = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { p.serve(mux, w, r) }))
	t.Cleanup(p.srv.Close)
	return p
}

func refuse(w http.ResponseWriter, status int, kind string) {
	w.WriteHeader(status)
	fmt.Fprintf(w, `{"error":{"type":%q}}`, kind)
}

// serve answers one request, with the fault drawn for it.
func (p *payTown) serve(mux http.Handler, w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(r.Body)
	if err != nil {
		return // whoever asked is gone
	}
	r.Body = io.NopCloser(bytes.NewReader(body))
	p.mu.Lock()
	fault, wait := p.faults.draw(r.URL.Path == "/v1/refunds")
	if p.away {
		fault = "503"
	}
	p.mu.Unlock()
	if fault == "503" {
		refuse(w, http.StatusServiceUnavailable, "api_error")
		return
	}
	time.Sleep(wait)
	rec := httptest.NewRecorder()
	p.mu.Lock()
	mux.ServeHTTP(rec, r)
	p.mu.Unlock()
	if fault == "answer lost" {
		panic(http.ErrAbortHandler) // done, and nobody is told
	}
	w.WriteHeader(rec.Code)
	w.Write(rec.Body.Bytes())
}

// repeated answers a key that was used before: with what it made, or a no to another question.
func (p *payTown) repeated(w http.ResponseWriter, r *http.Request) (id string, done bool) {
	r.ParseForm()
	was, ok := p.keys[r.Header.Get("Idempotency-Key")]
	switch {
	case !ok:
		return "", false
	case was.form != r.PostForm.Encode():
		p.faults.count("a key used for two questions")
		refuse(w, http.StatusBadRequest, "idempotency_error")
		return "", true
	}
	return was.id, false
}

func (p *payTown) begin(w http.ResponseWriter, r *http.Request) {
	id, done := p.repeated(w, r)
	if done {
		return
	}
	if id == "" {
		cents, err := strconv.Atoi(r.FormValue("line_items[0][price_data][unit_amount]"))
		ends, _ := strconv.ParseInt(r.FormValue("expires_at"), 10, 64)
		// A page may end half an hour from now at the earliest.
		if err != nil || cents <= 0 || p.now != nil && ends != 0 && ends < p.now().Unix()+30*60 {
			refuse(w, http.StatusBadRequest, "invalid_request_error")
			return
		}
		id = fmt.Sprintf("cs_%d", len(p.sessions)+1)
		p.sessions[id] = &townSession{id: id, state: "open", cents: cents, ends: ends, ours: r.FormValue("client_reference_id"), done: r.FormValue("success_url")}
		p.keys[r.Header.Get("Idempotency-Key")] = answered{id, r.PostForm.Encode()}
	}
	fmt.Fprint(w, p.session(id))
}

func (p *payTown) giveBack(w http.ResponseWriter, r *http.Request) {
	if p.shut {
		http.Error(w, `{"error":{"type":"invalid_request_error","code":"expired_or_canceled_card"}}`, http.StatusBadRequest)
		return
	}
	id, done := p.repeated(w, r)
	if done {
		return
	}
	if id == "" {
		cents, _ := strconv.Atoi(r.FormValue("amount"))
		s := p.sessions[strings.TrimPrefix(r.FormValue("payment_intent"), "pi_")]
		if s == nil || s.state != "paid" || cents <= 0 || s.back+cents > s.cents {
			p.faults.count("more asked back than was paid")
			refuse(w, http.StatusBadRequest, "invalid_request_error")
			return
		}
		id = fmt.Sprintf("re_%d", len(p.refunds)+1)
		b := &townRefund{id: id, session: s.id, cents: cents, key: r.FormValue("metadata[refund_key]"), status: "succeeded"}
		p.refunds[id], p.keys[r.Header.Get("Idempotency-Key")] = b, answered{id, r.PostForm.Encode()}
		s.back += cents
		p.faults.refunded(p, b)
	}
	fmt.Fprint(w, p.refunds[id].json())
}

func (b *townRefund) json() string {
	return fmt.Sprintf(`{"id":%q,"object":"refund","status":%q,"amount":%d,"metadata":{"refund_key":%q}}`, b.id, b.status, b.cents, b.key)
}

func (p *payTown) session(id string) string {
	s := p.sessions[id]
	if s == nil {
		return fmt.Sprintf(`{"id":%q,"object":"checkout.session","status":"open","payment_status":"unpaid"}`, id)
	}
	return s.json(s.state)
}

func (s *townSession) json(state string) string {
	switch state {
	case "paid":
		return fmt.Sprintf(`{"id":%q,"object":"checkout.session","status":"complete","payment_status":"paid","amount_total":%d,"currency":"usd","payment_intent":"pi_%s","url":null}`, s.id, s.cents, s.id)
	case "on its way": // a bank's debit
		return fmt.Sprintf(`{"id":%q,"object":"checkout.session","status":"complete","payment_status":"unpaid","amount_total":%d,"currency":"usd","payment_intent":"pi_%s","url":null}`, s.id, s.cents, s.id)
	case "expired":
		return fmt.Sprintf(`{"id":%q,"object":"checkout.session","status":"expired","payment_status":"unpaid"}`, s.id)
	}
	return fmt.Sprintf(`{"id":%q,"object":"checkout.session","status":"open","payment_status":"unpaid","url":"%s/c/%s"}`, s.id, payPages, s.id)
}

func (p *payTown) set(id, state string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.sessions[id].state = state
}

func (p *payTown) closed(away bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.away = away
}

// gave is what went back by a refund.
func (p *payTown) gave(id string) int {
	p.mu.Lock()
	defer p.mu.Unlock()
	if b := p.refunds[id]; b != nil {
		return b.cents
	}
	return 0
}

func (p *payTown) provider() option {
	return withProvider(stripe.New(stripe.Config{Key: "sk_test_story", WebhookSecret: noticeSecret, API: p.srv.URL, Pages: payPages}))
}

func event(kind, id, object string) []byte {
	return fmt.Appendf(nil, `{"id":"evt_%s","object":"event","type":%q,"data":{"object":%s}}`, id, kind, object)
}

func signed(body []byte, at time.Time) string {
	return webhook.GenerateTestSignedPayload(&webhook.UnsignedPayload{Payload: body, Secret: noticeSecret, Timestamp: at}).Header
}

// tell sends a signed notice about a checkout to the shop and returns the answer's status.
func (p *payTown) tell(v *visitor, kind, id string) int {
	v.t.Helper()
	p.mu.Lock()
	body := event(kind, id, p.session(id))
	p.mu.Unlock()
	res, _ := v.json(http.MethodPost, "/checkout/notices", string(body), "Stripe-Signature", signed(body, time.Now()))
	return res.StatusCode
}

// townFaults is what goes wrong between the provider and the shop, and how often it did.
// nil: nothing does. It is used under the town's lock.
type townFaults struct {
	r      *rand.Rand
	shop   string // address notices go to
	client *http.Client
	ctx    context.Context // ends the telling
	calm   bool            // nothing goes wrong any more
	done   map[string]int
	telling,
	late sync.WaitGroup
	hurry chan struct{} // closed: what was to come late comes now

	mu    sync.Mutex
	wrong []string // what the shop answered and should not have
}

func (f *townFaults) complain(format string, args ...any) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.wrong = append(f.wrong, fmt.Sprintf(format, args...))
}

func (f *townFaults) count(what string) {
	if f != nil {
		f.done[what]++
	}
}

// draw is the fault of one answer of the provider's. Refunds, which are few, meet more: the
// library asks again at once, and only an answer lost twice is asked for by the shop.
func (f *townFaults) draw(refund bool) (string, time.Duration) {
	if f == nil || f.calm {
		return "", 0
	}
	if refund && f.r.IntN(2) == 0 {
		f.count("answer lost")
		return "answer lost", 0
	}
	switch n := f.r.IntN(100); {
	case n < 6:
		f.count("503")
		return "503", 0
	case n < 12:
		f.count("slow answer")
		wait := 100 + f.r.IntN(300)
		if f.r.IntN(8) == 0 {
			wait = 2000
		}
		return "", time.Duration(wait) * time.Millisecond
	case n < 19:
		f.count("answer lost")
		return "answer lost", 0
	}
	return "", time.Duration(f.r.IntN(20)) * time.Millisecond
}

// pay is what a payer does on the provider's page: it returns where the page leads them
// back to, "" when the page has ended.
func (p *payTown) pay(id string) string {
	p.mu.Lock()
	defer p.mu.Unlock()
	s, f := p.sessions[id], p.faults
	if s == nil || s.state != "open" || s.ends != 0 && s.ends <= p.now().Unix() {
		return ""
	}
	s.state = "paid"
	paid := event("checkout.session.completed", id, s.json("paid"))
	switch n := f.r.IntN(100); {
	case n < 45:
		f.tell(0, paid)
	case n < 60:
		f.count("notice doubled")
		for range 2 + f.r.IntN(2) {
			f.tell(0, paid) // at once with the other
		}
	case n < 73:
		f.count("notice lost")
	case n < 85:
		f.count("notice late")
		f.tell(time.Duration(4+f.r.IntN(10))*time.Second, paid)
	default: // a bank's debit; its second notice overtakes the first, and an end comes after both
		f.count("notices out of order")
		f.tell(0, event("checkout.session.async_payment_succeeded", id, s.json("paid")))
		f.tell(300*time.Millisecond, event("checkout.session.completed", id, s.json("on its way")))
		f.tell(600*time.Millisecond, event("checkout.session.expired", id, s.json("expired")))
	}
	return s.done
}

// forge tells of a payment that was never made.
func (p *payTown) forge() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for id, s := range p.sessions {
		if s.state != "open" {
			continue
		}
		body, sig := event("checkout.session.completed", id, s.json("paid")), ""
		if p.faults.r.IntN(2) == 0 {
			sig = signed(body, time.Now().Add(-time.Hour))
		}
		p.faults.count("notice forged")
		p.faults.tellOnce(body, sig)
		return
	}
}

// refunded draws what becomes of a refund: done at once, later, or not at all.
func (f *townFaults) refunded(p *payTown, b *townRefund) {
	if f == nil || f.calm {
		return
	}
	update := func() []byte { return event("refund.updated", b.id, b.json()) }
	switch n := f.r.IntN(100); {
	case n < 70:
		if n < 25 { // its notice overtakes the answer
			f.count("refund's notice first")
			f.tell(0, update())
		}
	case n < 85:
		f.count("refund takes its time")
		now := update
		b.status = "pending"
		f.late.Go(func() {
			f.wait(time.Duration(1+n%4) * time.Second)
			p.mu.Lock()
			defer p.mu.Unlock()
			b.status = "succeeded"
			f.tell(0, now())
		})
	case n < 92:
		f.count("refund's notice lost")
		b.status = "pending"
		f.late.Go(func() {
			f.wait(2 * time.Second)
			p.mu.Lock()
			defer p.mu.Unlock()
			b.status = "succeeded"
		})
	default: // the bank says no, some time later
		f.count("refund failed")
		b.status = "failed"
		p.sessions[b.session].back -= b.cents
	}
}

func (f *townFaults) wait(d time.Duration) {
	select {
	case <-f.hurry:
	case <-time.After(d):
	}
}

// tell sends a notice after a while, again and again until the shop has taken it.
func (f *townFaults) tell(after time.Duration, body []byte) {
	f.telling.Go(func() {
		f.wait(after)
		for try := range 200 {
			status, err := f.post(body, signed(body, time.Now()))
			if err == nil && status/100 == 2 {
				return
			}
			if err == nil && status != http.StatusServiceUnavailable {
				f.complain("a true notice was answered %d", status)
			}
			select {
			case <-f.ctx.Done():
				return
			case <-time.After(time.Duration(50+10*try) * time.Millisecond):
			}
		}
	})
}

func (f *townFaults) tellOnce(body []byte, signature string) {
	f.telling.Go(func() {
		if status, err := f.post(body, signature); err == nil && status != http.StatusBadRequest && status != http.StatusServiceUnavailable {
			f.complain("a forged notice was answered %d", status)
		}
	})
}

func (f *townFaults) post(body []byte, signature string) (int, error) {
	req, err := http.NewRequestWithContext(f.ctx, http.MethodPost, f.shop+"/checkout/notices", bytes.NewReader(body))
	if err != nil {
		return 0, err
	}
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("Stripe-Signature", signature)
	res, err := f.client.Do(req)
	if err != nil {
		return 0, err
	}
	_, err = io.Copy(io.Discard, res.Body)
	return res.StatusCode, errors.Join(err, res.Body.Close())
}

// calmDown ends the faults: what was to come late comes now.
func (p *payTown) calmDown() {
	p.mu.Lock()
	p.faults.calm = true
	p.mu.Unlock()
	close(p.faults.hurry)
	p.faults.late.Wait()
	p.faults.telling.Wait()
}

// endPages ends the pages whose time is over; nobody is told.
func (p *payTown) endPages() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, s := range p.sessions {
		if s.state == "open" && s.ends <= p.now().Unix() {
			s.state = "expired"
		}
	}
}

// took are the payments it has taken: our number of the checkout to the session.
func (p *payTown) took() map[string]townSession {
	p.mu.Lock()
	defer p.mu.Unlock()
	out := map[string]townSession{}
	for _, s := range p.sessions {
		if s.state == "paid" {
			out[s.ours] = *s
		}
	}
	return out
}

// wentWrong is how often which fault was there.
func (p *payTown) wentWrong() map[string]int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return maps.Clone(p.faults.done)
}

// pageID is the checkout that a page of the provider's is for.
func pageID(page string) string {
	u, err := url.Parse(page)
	if err != nil || !strings.HasPrefix(page, payPages+"/c/") {
		return ""
	}
	return strings.TrimPrefix(u.Path, "/c/")
}
