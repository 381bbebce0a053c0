// Package api is the JSON door of the shop: the same use cases as the pages, typed,
// described by OpenAPI 3.1 at /api/openapi.json, with RFC 9457 problems. It also holds
// what both doors need: the table from errors to HTTP and who the actor is.
package api

import (
	"context"
	"net/http"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humaecho"
	"github.com/labstack/echo/v4"

	"flitchbook/api/checkout"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

// Server answers /api/v1.
type Server struct {
	Store    *store.Store
	Sessions *Sessions      // nil: nobody can sign in by the API
	Checkout *checkout.Desk // nil: nobody pays online
	api      huma.API
}

func init() {
	// The library's own error texts echo what was posted; ours say only what is wrong.
	huma.NewErrorWithContext = func(_ huma.Context, status int, msg string, errs ...error) huma.StatusError {
		p := &Problem{Type: "about:blank", Title: http.StatusText(status), Status: status, Detail: msg}
		if status >= 500 {
			p.Detail = "Something broke on our side. Nothing half-done was kept."
		}
		for _, err := range errs {
			if err == nil || status >= 500 {
				continue
			}
			f := ProblemField{Detail: err.Error()}
			if d, ok := err.(huma.ErrorDetailer); ok {
				f.Field, f.Detail = strings.TrimPrefix(d.ErrorDetail().Location, "body."), d.ErrorDetail().Message
			}
			p.Errors = append(p.Errors, f)
		}
		return p
	}
	huma.NewError = func(status int, msg string, errs ...error) huma.StatusError {
		return huma.NewErrorWithContext(nil, status, msg, errs...)
	}
}

// New puts the JSON API on e.
func New(e *echo.Echo, s *store.Store, sessions *Sessions) *Server {
	c := huma.DefaultConfig("Flitchbook", "1")
	c.Info.Description = "Seats, animals, slabs and notices of a teaching butcher's shop. Weights are written with their unit (\"4.60 lb\"), temperatures with their scale (\"38 F\"), money as \"$95.00\", moments as RFC 3339, days as 2026-10-08."
	c.OpenAPIPath, c.DocsPath, c.SchemasPath = "/api/openapi", "", ""
	c.CreateHooks = nil
	a := &Server{Store: s, Sessions: sessions, api: humaecho.New(e, c)}
	a.operations()
	a.checkoutNotices(e)
	return a
}

// operations lists every group of operations; each stands in the file of its noun.
func (a *Server) operations() {
	a.sessionOperations()
	a.meatOperations()
	a.seasonOperations()
	a.reviewOperations()
	a.troubleOperations()
	a.orderOperations()
	a.buyingOperations()
	a.classOperations()
	a.orderMoneyOperations()
	a.invoiceOperations()
	a.farmYieldOperations()
	a.outletOperations()
	a.limitOperations()
	a.cuttingTestOperations()
	a.classMoneyOperations()
	a.ledgerOperations()
	a.goSheetOperations()
	a.slotOperations()
	a.claimOperations()
	a.bookingOperations()
	a.voucherOperations()
	a.privateOperations()
	a.personDataOperations()
	a.answerOperations()
	a.myBookingOperations()
	a.checkoutOperations()
	a.slabOperations()
	a.pickupOperations()
	a.mySlabOperations()
	a.afterOperations()
	a.benchOperations()
	a.tracingOperations()
	a.recordOperations()
	a.kitOperations()
	a.workdayOperations()
	a.roomOperations()
	a.roomLogOperations()
	a.lostOperations()
	a.amendOperations()
	a.smokeOperations()
	a.dinnerOperations()
	a.dinnerLotOperations()
	a.dishOperations()
	a.priceOperations()
}

// OpenAPI is the description as served.
func (a *Server) OpenAPI() *huma.OpenAPI { return a.api.OpenAPI() }

// operation puts one use case on the API. roles guards it (none: open to all); the
// handler gets the actor and returns what is sent as JSON.
func operation[In, Out any](a *Server, method, path, id, summary string, roles []shop.Role, do func(ctx context.Context, by shop.Actor, in *In) (*Out, error)) {
	op := huma.Operation{Method: method, Path: "/api/v1" + path, OperationID: id, Summary: summary, MaxBodyBytes: 1 << 20}
	if len(roles) > 0 {
		op.Description = "For " + rolesInWords(roles) + "."
		// Before the input is looked at: who may not do it learns nothing about it.
		op.Middlewares = huma.Middlewares{func(c huma.Context, next func(huma.Context)) {
			if err := need(actorOf(c.Context()), roles); err != nil {
				if err := WriteProblem(humaecho.Unwrap(c), err); err != nil {
					a.Store.LogFault(id, err)
				}
				return
			}
			next(c)
		}}
	}
	huma.Register(a.api, op, func(ctx context.Context, in *In) (*Out, error) {
		out, err := do(ctx, actorOf(ctx), in)
		if err != nil {
			if Status(err) >= 500 {
				a.Store.LogFault(id, err)
			}
			return nil, ProblemOf(err)
		}
		return out, nil
	})
}

func rolesInWords(roles []shop.Role) string {
	words := []string{string(shop.Owner)}
	for _, r := range roles {
		if r != shop.Owner {
			words = append(words, string(r))
		}
	}
	return strings.Join(words, " or ")
}
