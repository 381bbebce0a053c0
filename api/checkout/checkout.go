// Package checkout is the narrow door to a payment provider with pages of its own: the shop
// asks for a page, sends the payer there and is told what became of it. No card number ever
// passes through the shop. What the shop does with the answers is the store's; which
// provider it is, is known to its adapter alone.
package checkout

import (
	"context"
	"errors"
	"time"

	"flitchbook/api/shop"
	"flitchbook/api/store"
	"flitchbook/planner/unit"
)

// An Order is what a page is asked for.
type Order struct {
	Key   string // a repeated order under one key gives the same page
	ID    shop.CheckoutID
	Cents unit.Money
	Words string       // what the payer reads beside the sum
	Email string       // of the payer, "" when unknown
	Ends  unit.Instant // nobody can pay there later; 0: as the provider has it
	Done  string       // where the payer comes back to
	Back  string       // where they come back to without paying
}

// PageLife is how long a page stays open. The seats may go sooner, and money that comes
// then goes back; a provider may ask for half an hour from when it is reached.
const PageLife = time.Hour

// A Begun is the page the provider made.
type Begun struct {
	Ref string // the provider's name of it
	URL string
}

// A Notice is what the provider tells by itself, its signature checked.
type Notice struct {
	Ref    string // of a checkout, "" for a notice about a refund
	Result shop.CheckoutResult

	RefundKey string // of a refund
	Refund    store.RefundResult
}

// A Provider makes pages and gives money back. Its methods are called outside any
// transaction and may be called again with the same words.
type Provider interface {
	// Begin asks for a page. Any error means that nobody can pay there.
	Begin(ctx context.Context, o Order) (Begun, error)
	// Look says what became of a checkout.
	Look(ctx context.Context, ref string) (shop.CheckoutResult, error)
	// Refund gives money back, or asks what became of a refund handed over before. An
	// error that wraps store.ErrRefundRefused will not change.
	Refund(ctx context.Context, r shop.Refund, paymentRef string) (store.RefundResult, error)
	// Read checks and reads a notice. ErrForged means that it is not the provider's, or too
	// old; a notice about something the shop does not ask about has neither Ref nor RefundKey.
	Read(body []byte, signature string) (Notice, error)
	// Pages is the origin of the provider's pages, such as https://pay.example.test: forms
	// of the shop may lead there.
	Pages() string
}

// ErrForged is a notice that does not bear the provider's signature, or an old one.
var ErrForged = errors.New("the notice does not bear the provider's signature of now")
