// Package stripe is the adapter to one payment provider, through its own library.
package stripe

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"strconv"
	"strings"
	"time"

	lib "github.com/stripe/stripe-go/v85"
	"github.com/stripe/stripe-go/v85/webhook"

	"flitchbook/api/checkout"
	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

// Config is what the provider needs to know of the shop.
type Config struct {
	Key           string // secret key of the account
	WebhookSecret string // that notices are signed with
	Currency      string // "usd" when empty
	API           string // another address of its interface: in tests
	Pages         string // another origin of its pages: a domain of the shop's own
	Client        *http.Client
	Log           *slog.Logger
}

// Tolerance is how old a notice may be. The provider signs each try anew.
const Tolerance = 5 * time.Minute

// Provider talks to the provider. It is safe for many goroutines.
type Provider struct {
	c       Config
	backend lib.Backend
}

var _ checkout.Provider = (*Provider)(nil)

// New makes the adapter. Nothing is asked of the provider yet.
func New(c Config) *Provider {
	if c.Currency == "" {
		c.Currency = "usd"
	}
	if c.Pages == "" {
		c.Pages = "https://checkout.stripe.com"
	}
	if c.Client == nil {
		c.Client = &http.Client{Timeout: 10 * time.Second}
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	b := lib.BackendConfig{HTTPClient: c.Client, LeveledLogger: quiet{c.Log}, MaxNetworkRetries: lib.Int64(1), EnableTelemetry: lib.Bool(false)}
	if c.API != "" {
		b.URL = lib.String(c.API)
	}
	return &Provider{c: c, backend: lib.GetBackendWithConfig(lib.APIBackend, &b)}
}

// quiet keeps what the library would print: it may name people and addresses.
type quiet struct{ log *slog.Logger }

func (q quiet) Debugf(string, ...any) {}
func (q quiet) Infof(string, ...any)  {}
func (q quiet) Warnf(string, ...any)  {}
func (q quiet) Errorf(string, ...any) { q.log.Debug("the payment provider's library met an error") }

// Pages is the origin of the provider's pages.
func (p *Provider) Pages() string { return p.c.Pages }

// Begin asks for a page that takes one sum.
func (p *Provider) Begin(ctx context.Context, o checkout.Order) (checkout.Begun, error) {
	in := &lib.CheckoutSessionParams{
		Mode:              lib.String(string(lib.CheckoutSessionModePayment)),
		SuccessURL:        lib.String(o.Done),
		CancelURL:         lib.String(o.Back),
		ClientReferenceID: lib.String(strconv.FormatInt(int64(o.ID), 10)),
		LineItems: []*lib.CheckoutSessionLineItemParams{{Quantity: lib.Int64(1), PriceData: &lib.CheckoutSessionLineItemPriceDataParams{
			Currency: lib.String(p.c.Currency), UnitAmount: lib.Int64(int64(o.Cents)),
			ProductData: &lib.CheckoutSessionLineItemPriceDataProductDataParams{Name: lib.String(o.Words)}}}},
	}
	if o.Ends != 0 {
		in.ExpiresAt = lib.Int64(int64(o.Ends))
	}
	if o.Email != "" {
		in.CustomerEmail = lib.String(o.Email)
	}
	in.Context = ctx
	in.SetIdempotencyKey(o.Key)
	var out lib.CheckoutSession
	if err := p.backend.Call(http.MethodPost, "/v1/checkout/sessions", p.c.Key, in, &out); err != nil {
		return checkout.Begun{}, plain(err)
	}
	if out.ID == "" || out.URL == "" {
		return checkout.Begun{}, errors.New("the provider made a checkout without a page")
	}
	return checkout.Begun{Ref: out.ID, URL: out.URL}, nil
}

// Look says what became of a checkout.
func (p *Provider) Look(ctx context.Context, ref string) (shop.CheckoutResult, error) {
	in := &lib.CheckoutSessionParams{}
	in.Context = ctx
	var out lib.CheckoutSession
	if err := p.backend.Call(http.MethodGet, lib.FormatURLPath("/v1/checkout/sessions/%s", ref), p.c.Key, in, &out); err != nil {
		return shop.CheckoutResult{}, plain(err)
	}
	return p.result(&out)
}

// result reads a checkout. Money that is still on its way (a bank's debit) is not there yet.
func (p *Provider) result(s *lib.CheckoutSession) (shop.CheckoutResult, error) {
	switch {
	case s.PaymentStatus == lib.CheckoutSessionPaymentStatusPaid:
		if !strings.EqualFold(string(s.Currency), p.c.Currency) {
			return shop.CheckoutResult{}, fmt.Errorf("checkout %s was paid in %s, not in %s", s.ID, s.Currency, p.c.Currency)
		}
		if s.PaymentIntent == nil || s.PaymentIntent.ID == "" {
			return shop.CheckoutResult{}, fmt.Errorf("checkout %s is paid by no payment", s.ID)
		}
		return shop.CheckoutResult{State: shop.CheckoutPaid, Cents: unit.Money(s.AmountTotal), PaymentRef: s.PaymentIntent.ID}, nil
	case s.Status == lib.CheckoutSessionStatusExpired:
		return shop.CheckoutResult{State: shop.CheckoutEnded}, nil
	}
	return shop.CheckoutResult{State: shop.CheckoutOpen}, nil
}

// Refund gives money back, or asks after a refund that was handed over before.
func (p *Provider) Refund(ctx context.Context, r shop.Refund, paymentRef string) (store.RefundResult, error) {
	in := &lib.RefundParams{}
	in.Context = ctx
	method, path := http.MethodGet, lib.FormatURLPath("/v1/refunds/%s", r.Ref)
	if r.Ref == "" {
		method, path = http.MethodPost, "/v1/refunds"
		in.PaymentIntent, in.Amount = lib.String(paymentRef), lib.Int64(int64(r.Cents))
		in.AddMetadata(keyName, r.Key)
		in.SetIdempotencyKey(r.Key)
	}
	var out lib.Refund
	if err := p.backend.Call(method, path, p.c.Key, in, &out); err != nil {
		var no *lib.Error
		if errors.As(err, &no) && no.Type == lib.ErrorTypeInvalidRequest && no.HTTPStatusCode < 500 && no.HTTPStatusCode != http.StatusTooManyRequests {
			return store.RefundResult{}, fmt.Errorf("%w (%s)", store.ErrRefundRefused, plain(err))
		}
		return store.RefundResult{}, plain(err)
	}
	return refundResult(&out), nil
}

// keyName is where a refund carries our key, so that notices about it find it.
const keyName = "refund_key"

func refundResult(r *lib.Refund) store.RefundResult {
	out := store.RefundResult{Ref: r.ID, State: shop.RefundSent}
	switch r.Status {
	case lib.RefundStatusSucceeded:
		out.State = shop.RefundDone
	case lib.RefundStatusFailed, lib.RefundStatusCanceled:
		out.State, out.Why = shop.RefundFailed, "the provider says: "+strings.ReplaceAll(string(r.Status)+" "+string(r.FailureReason), "_", " ")
	}
	return out
}

// Read checks a notice's signature over the bytes as they came, and its age.
func (p *Provider) Read(body []byte, signature string) (checkout.Notice, error) {
	// The account's notices may be written in another version of the provider's interface
	// than the library's; the few fields read here are the same in all.
	e, err := webhook.ConstructEventWithOptions(body, signature, p.c.WebhookSecret, webhook.ConstructEventOptions{Tolerance: Tolerance, IgnoreAPIVersionMismatch: true})
	if err != nil {
		return checkout.Notice{}, checkout.ErrForged
	}
	if e.Data == nil {
		return checkout.Notice{}, nil
	}
	switch e.Type {
	case lib.EventTypeCheckoutSessionCompleted, lib.EventTypeCheckoutSessionAsyncPaymentSucceeded, lib.EventTypeCheckoutSessionExpired, lib.EventTypeCheckoutSessionAsyncPaymentFailed:
		var s lib.CheckoutSession
		if err := json.Unmarshal(e.Data.Raw, &s); err != nil {
			return checkout.Notice{}, fmt.Errorf("notice %s: %w", e.ID, err)
		}
		n := checkout.Notice{Ref: s.ID}
		if e.Type == lib.EventTypeCheckoutSessionExpired || e.Type == lib.EventTypeCheckoutSessionAsyncPaymentFailed {
			n.Result.State = shop.CheckoutEnded
			return n, nil
		}
		n.Result, err = p.result(&s)
		return n, err
	case lib.EventTypeRefundCreated, lib.EventTypeRefundUpdated, lib.EventTypeRefundFailed:
		var r lib.Refund
		if err := json.Unmarshal(e.Data.Raw, &r); err != nil {
			return checkout.Notice{}, fmt.Errorf("notice %s: %w", e.ID, err)
		}
		return checkout.Notice{RefundKey: r.Metadata[keyName], Refund: refundResult(&r)}, nil
	}
	return checkout.Notice{}, nil
}

// plain is an error without what was asked: it goes into logs and records.
func plain(err error) error {
	var no *lib.Error
	if errors.As(err, &no) {
		return fmt.Errorf("the payment provider answers %d %s %s", no.HTTPStatusCode, no.Type, no.Code)
	}
	return fmt.Errorf("the payment provider cannot be reached: %w", err)
}
