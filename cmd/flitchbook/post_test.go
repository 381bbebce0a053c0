package main

import (
	"context"
	"strings"
	"testing"
	"time"

	"flitchbook/api/shop"
	"flitchbook/mail"
	"flitchbook/planner/unit"
	"flitchbook/testdata/scenario"
)

// A post is what the shop sends from now on, each message with the moment it left. Whoever
// reads it may let the story take another way than the planted one.
type post struct {
	t    *testing.T
	h    *house
	send func(context.Context, shop.Notice, shop.Facts) error
	sent []sentLetter
}

type sentLetter struct {
	at unit.Instant
	to string
	letter
}

func (h *house) post(t *testing.T) *post {
	t.Helper()
	p := &post{t: t, h: h}
	c := mailConfig{MailFrom: "shop@corbel.example.test", ShopPlace: scenario.Shop().Place, ShopAddress: scenario.Shop().Street}
	says, err := c.house(t.Context(), h.Store)
	if err != nil {
		t.Fatal(err)
	}
	p.send = mail.Deliverer(says, p)
	h.goOn.Send, h.goOn.Strict = p.send, false
	return p
}

// Send takes a message as a mail server would.
func (p *post) Send(_ context.Context, m mail.Message) error {
	raw, err := m.Bytes()
	if err == nil {
		p.sent = append(p.sent, sentLetter{p.h.Now(), m.To.Address, openLetter(p.t, raw)})
	}
	return err
}

// now sends what is due.
func (p *post) now() {
	p.t.Helper()
	if _, err := p.h.Deliver(p.t.Context(), p.send); err != nil {
		p.t.Fatal(err)
	}
}

// pass lets time go by to a moment without the story: what falls due happens at its own
// time, and nothing else.
func (p *post) pass(moment string) {
	p.t.Helper()
	t, err := time.ParseInLocation("2006-01-02 15:04", moment, p.h.Loc)
	if err != nil {
		p.t.Fatal(err)
	}
	for to := unit.InstantOf(t); ; {
		at := to
		due, err := p.h.NextDue(p.t.Context())
		if err != nil {
			p.t.Fatal(err)
		}
		if due > p.h.Now() {
			at = min(at, due)
		}
		p.h.Clock.Set(at)
		if err := p.h.RunDue(p.t.Context()); err != nil {
			p.t.Fatal(err)
		}
		p.now()
		if at == to {
			return
		}
	}
}

// to are the messages an address has had.
func (p *post) to(addr string) (out []sentLetter) {
	for _, l := range p.sent {
		if l.to == addr {
			out = append(out, l)
		}
	}
	return out
}

// only is the one message to an address whose subject has the words.
func (p *post) only(addr, words string) sentLetter {
	p.t.Helper()
	var found []sentLetter
	for _, l := range p.to(addr) {
		if strings.Contains(l.subject, words) {
			found = append(found, l)
		}
	}
	if len(found) != 1 {
		p.t.Fatalf("%d messages to %s about %q, want 1; it had %v", len(found), addr, words, subjects(p.to(addr)))
	}
	return found[0]
}

func subjects(ls []sentLetter) (out []string) {
	for _, l := range ls {
		out = append(out, l.subject)
	}
	return out
}

// says checks what stands in a message, line ends apart.
func (l sentLetter) says(t *testing.T, wants ...string) {
	t.Helper()
	text := spaces.ReplaceAllString(l.text, " ")
	for _, w := range wants {
		if !strings.Contains(text, w) {
			t.Errorf("%q to %s does not say %q:\n%s", l.subject, l.to, w, text)
		}
	}
}
