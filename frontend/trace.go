package frontend

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var tracePages = map[string]Page{
	"trace_find":  {Shop, TraceFindPage{}},
	"trace":       {Shop, TracePage{}},
	"trace_sheet": {Paper, TraceSheetPage{}},
}

// TraceFindPage is the one box every trace begins in.
type TraceFindPage struct {
	Layout
	Form    Form
	Q       string
	Asked   bool
	Hits    []store.TraceHit
	Recalls []shop.Recall
}

// TracePage is one handle, back and forward, and the recall that may come of it.
type TracePage struct {
	Layout
	Trace  store.Traced
	Form   Form // the recall
	Span   Form // of jar, room, scale, farm and plant
	Calls  Form // notes of phone calls
	Early  []string
	Unheld int // in the house and free to go
	Tell   int // parties to tell
}

// TraceSheetPage is the trace on paper.
type TraceSheetPage struct {
	Sheet
	Trace  store.Traced
	Unheld int
	Tell   int
}

func (s *Site) traceRoutes(e *echo.Echo) {
	g := e.Group("/staff/trace", api.Need(shop.Staff))
	g.GET("", s.traceFind)
	g.GET("/:kind/:key", func(c echo.Context) error { return s.showTrace(c, http.StatusOK, TracePage{}) })
	g.GET("/:kind/:key/sheet", s.traceSheet)
	g.POST("/:kind/:key/hold", s.recallHold)
	g.POST("/:kind/:key/tell", s.recallTell)
	g.POST("/:kind/:key/calls", s.recallCall)
}

// traceFind leads a name that fits one thing straight to it.
func (s *Site) traceFind(c echo.Context) error {
	ctx, q := c.Request().Context(), strings.TrimSpace(c.QueryParam("q"))
	p := TraceFindPage{Layout: s.Layout(c, "Trace"), Q: q, Form: Form{Values: url.Values{"q": {q}}}}
	var err error
	if p.Recalls, err = s.Store.Recalls(ctx); err != nil {
		return err
	}
	if !c.QueryParams().Has("q") {
		return s.Render(c, http.StatusOK, "trace_find", p)
	}
	if p.Hits, err = s.Store.TraceSearch(ctx, q); err != nil {
		if !refused(&p.Form, err) {
			return err
		}
		return s.Render(c, api.Status(err), "trace_find", p)
	}
	if len(p.Hits) == 1 {
		return c.Redirect(http.StatusSeeOther, "/staff/trace/"+p.Hits[0].Path())
	}
	p.Asked = true
	return s.Render(c, http.StatusOK, "trace_find", p)
}

// handleOf reads the handle in the address.
func (s *Site) handleOf(c echo.Context) (store.Handle, error) {
	h := store.Handle{Kind: param(c, "kind"), Key: param(c, "key")}
	var err error
	h.From, h.Until, err = s.Store.TraceSpan(c.QueryParam("from"), c.QueryParam("until"))
	return h, err
}

// param is a part of the path as it was meant.
func param(c echo.Context, name string) string {
	v, err := url.PathUnescape(c.Param(name))
	if err != nil {
		return c.Param(name)
	}
	return v
}

func (s *Site) showTrace(c echo.Context, status int, p TracePage) error {
	h, err := s.handleOf(c)
	if err != nil {
		p.Span = Form{Prefix: "s-", Values: url.Values{"from": {c.QueryParam("from")}, "until": {c.QueryParam("until")}}}
		if !refused(&p.Span, err) {
			return err
		}
		status = api.Status(err)
	}
	tr, err := s.Store.Trace(c.Request().Context(), h)
	if err != nil {
		return err
	}
	p.Layout, p.Trace = s.Layout(c, "Trace: "+tr.Name), *tr
	p.Unheld, p.Tell = tr.Here-tr.Held, toTell(tr)
	if p.Span.Prefix == "" {
		p.Span = Form{Prefix: "s-", Values: url.Values{}}
		if h.From != 0 {
			p.Span.Values.Set("from", h.From.In(s.Store.Loc).Format("2006-01-02 15:04"))
		}
		if h.Until != 0 {
			p.Span.Values.Set("until", h.Until.In(s.Store.Loc).Format("2006-01-02 15:04"))
		}
	}
	return s.Render(c, status, "trace", p)
}

func toTell(tr *store.Traced) int {
	n := 0
	for _, p := range tr.Parties {
		if p.Tell() {
			n++
		}
	}
	return n
}

func (s *Site) traceSheet(c echo.Context) error {
	h, err := s.handleOf(c)
	if err != nil {
		return err
	}
	tr, err := s.Store.Trace(c.Request().Context(), h)
	if err != nil {
		return err
	}
	return s.Render(c, http.StatusOK, "trace_sheet", TraceSheetPage{Sheet: Sheet{Layout: s.Layout(c, "Trace: "+tr.Name), Large: c.QueryParam("large") != ""},
		Trace: *tr, Unheld: tr.Here - tr.Held, Tell: toTell(tr)})
}

// recalling does one press of a recall and shows the trace again.
func (s *Site) recalling(c echo.Context, prefix string, do func(store.Handle, *Form) (string, error)) error {
	h, err := s.handleOf(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	f.Prefix = prefix
	said, err := do(h, &f)
	if err != nil {
		if !refused(&f, err) {
			return err
		}
		if prefix == "c-" {
			return s.showTrace(c, api.Status(err), TracePage{Calls: f})
		}
		return s.showTrace(c, api.Status(err), TracePage{Form: f})
	}
	s.say(c, said)
	return c.Redirect(http.StatusSeeOther, "/staff/trace/"+h.Path())
}

func (s *Site) recallHold(c echo.Context) error {
	return s.recalling(c, "", func(h store.Handle, f *Form) (string, error) {
		n, err := s.Store.RecallHold(c.Request().Context(), api.Actor(c), h, f.Values.Get("reason"))
		return plural(n, "slab is", "slabs are") + " on hold. Nothing of it moves until a named person decides.", err
	})
}

func (s *Site) recallTell(c echo.Context) error {
	return s.recalling(c, "", func(h store.Handle, f *Form) (string, error) {
		n, err := s.Store.RecallTell(c.Request().Context(), api.Actor(c), h, f.Values.Get("reason"))
		if n == 0 {
			return "Everybody with an address had been written to already; ring the others.", err
		}
		return plural(n, "message leaves", "messages leave") + " at once.", err
	})
}

func (s *Site) recallCall(c echo.Context) error {
	return s.recalling(c, "c-", func(h store.Handle, f *Form) (string, error) {
		n, err := strconv.Atoi(strings.TrimPrefix(strings.ToUpper(f.Values.Get("booking")), "K"))
		if err != nil {
			return "", echo.NewHTTPError(http.StatusBadRequest)
		}
		reached := f.Values.Get("reached") == "yes"
		err = s.Store.RecallCalled(c.Request().Context(), api.Actor(c), h, n, reached, f.Values.Get(fmt.Sprintf("words%d", n)))
		return "Noted.", err
	})
}
