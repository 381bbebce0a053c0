package frontend

import (
	"maps"
	"net/http"
	"net/url"
	"slices"
	"time"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/checkout"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

// Site is the pages on top of the records.
type Site struct {
	*Renderer
	Store    *store.Store
	Sessions *api.Sessions
	Demo     *Demo          // nil in earnest
	Checkout *checkout.Desk // nil: nobody pays online
}

// NewSite parses the pages for a store. cfg's zone, clock and actor are taken from
// the store and the session.
func NewSite(s *store.Store, cfg Config) (*Site, error) {
	cfg.Loc, cfg.ShopName = s.Loc, s.Config.Shop
	cfg.Now = func() time.Time { return s.Now().Time() }
	cfg.Actor = func(c echo.Context) Actor {
		by := api.Actor(c)
		if !by.IsStaff() {
			return Actor{}
		}
		return Actor{Name: by.Name, Role: Role(by.Role)}
	}
	if cfg.Sessions != nil {
		cfg.Flash = cfg.Sessions.Said
	}
	r, err := NewRenderer(cfg)
	if err != nil {
		return nil, err
	}
	return &Site{Renderer: r, Store: s, Sessions: cfg.Sessions}, nil
}

// say leaves a sentence for the top of the next page this person sees.
func (s *Site) say(c echo.Context, text string) {
	if s.Sessions != nil {
		s.Sessions.Say(c, text)
	}
}

// Routes puts every page on e, in reading order. Each group's routes stand in the
// file of its noun.
func (s *Site) Routes(e *echo.Echo) {
	s.Static(e)
	s.demoRoutes(e)
	s.loginRoutes(e)
	s.classesRoutes(e)
	s.shareRoutes(e)
	s.privateRoutes(e)
	s.personDataRoutes(e)
	s.afterRoutes(e)
	s.answerPageRoutes(e)
	s.bookRoutes(e)
	s.payRoutes(e)
	s.myBookingRoutes(e)
	s.leaveRoutes(e)
	s.guestRoutes(e)
	s.voucherRoutes(e)
	s.benchRoutes(e)
	s.rackRoutes(e)
	s.roomRoutes(e)
	s.lostRoutes(e)
	s.amendRoutes(e)
	s.smokeLogRoutes(e)
	s.shelfRoutes(e)
	s.kitRoutes(e)
	s.sealingRoutes(e)
	s.labelRoutes(e)
	s.mySlabRoutes(e)
	s.seasonRoutes(e)
	s.reviewRoutes(e)
	s.meatRoutes(e)
	s.troubleRoutes(e)
	s.farmYieldRoutes(e)
	s.cuttingTestRoutes(e)
	s.outletRoutes(e)
	s.limitRoutes(e)
	s.classMoneyRoutes(e)
	s.ledgerRoutes(e)
	s.goSheetRoutes(e)
	s.buyingRoutes(e)
	s.slotRoutes(e)
	s.hangRoutes(e)
	s.invoiceRoutes(e)
	s.yieldNoteRoutes(e)
	s.orderRoutes(e)
	s.farmRoutes(e)
	s.kitchenRoutes(e)
	s.dinnerMeatRoutes(e)
	s.calendarRoutes(e)
	s.noticeRoutes(e)
	s.classListRoutes(e)
	s.doorRoutes(e)
	s.findRoutes(e)
	s.counterBookRoutes(e)
	s.counterBookingRoutes(e)
	s.counterLeaveRoutes(e)
	s.personRoutes(e)
	s.counterVoucherRoutes(e)
	s.traceRoutes(e)
	s.dinnerLotRoutes(e)
	s.dishRoutes(e)
	s.priceRoutes(e)
	s.dayRoutes(e)
	s.drillRoutes(e)
	s.lotRoutes(e)
	s.grindRoutes(e)
}

// Fail answers a failed page request: a person who must sign in is led there, any other
// no is said in plain words, a fault is logged once with its whole chain.
func (s *Site) Fail(c echo.Context, err error) error {
	status := api.Status(err)
	if status == http.StatusUnauthorized && c.Request().Method == http.MethodGet {
		return c.Redirect(http.StatusSeeOther, "/login?then="+url.QueryEscape(c.Request().URL.Path))
	}
	if status >= http.StatusInternalServerError {
		s.Store.LogFault(c.Path(), err)
		return s.ErrorPage(c, status, "", "")
	}
	text := ""
	if e, ok := shop.AsError(err); ok {
		text = e.Text
	}
	return s.ErrorPage(c, status, "", text)
}

// refused puts a shop error into a form, so that the page can be shown again with what
// was typed. It reports false for errors the page cannot mend.
func refused(f *Form, err error) bool {
	e, ok := shop.AsError(err)
	if !ok || (e.Kind != shop.Invalid && e.Kind != shop.Conflict) {
		return false
	}
	for _, name := range slices.Sorted(maps.Keys(e.Fields)) {
		f.Fail(name, e.Fields[name])
	}
	switch {
	case e.Code == "key_reused":
		f.Fail("", "This page was sent once already, with other answers. Look at what came of that before you send it again.")
	case len(e.Fields) == 0:
		f.Fail("", e.Text)
	}
	return true
}
