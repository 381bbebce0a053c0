package frontend

import (
	"fmt"
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var personDataPages = map[string]Page{
	"my_data":    {Public, MyDataPage{}},
	"owner_data": {Shop, OwnerDataPage{}},
}

// MyDataPage is what the records hold of the person a private link belongs to.
type MyDataPage struct {
	Layout
	Data store.PersonData
	Back string // address of their page
}

// OwnerDataPage is the same for the owner, who hands it out and erases.
type OwnerDataPage struct {
	Layout
	Form Form
	Data store.PersonData
	Base string
	Bars []string // what stands in the way of erasing
}

func (s *Site) personDataRoutes(e *echo.Echo) {
	e.GET("/b/:secret/data", s.myData(s.payerKey, "/b/"))
	e.GET("/b/:secret/data.json", s.myDataFile(s.payerKey))
	e.POST("/b/:secret/erase", s.askErase(s.payerKey, "/b/"))
	e.GET("/g/:secret/data", s.myData(s.guestKey, "/g/"))
	e.GET("/g/:secret/data.json", s.myDataFile(s.guestKey))
	e.POST("/g/:secret/erase", s.askErase(s.guestKey, "/g/"))
	owner := api.Need(shop.Owner)
	for _, of := range []string{"/owner/people/:id", "/owner/payers/:id"} {
		e.GET(of, func(c echo.Context) error { return s.ownerData(c, http.StatusOK, Form{}) }, owner)
		e.GET(of+"/data.json", s.ownerDataFile, owner)
		e.POST(of+"/erase", s.erasePerson, owner)
	}
}

func (s *Site) payerKey(c echo.Context) (store.PersonKey, error) {
	b, err := s.privately(c)
	if err != nil {
		return store.PersonKey{}, err
	}
	return store.PersonKey{Booking: b.ID}, nil
}

func (s *Site) guestKey(c echo.Context) (store.PersonKey, error) {
	g, err := s.guestBySecret(c)
	if err != nil {
		return store.PersonKey{}, err
	}
	c.Response().Header().Set("Referrer-Policy", "no-referrer")
	return store.PersonKey{Guest: g.ID}, nil
}

type keyOf func(echo.Context) (store.PersonKey, error)

func (s *Site) myData(key keyOf, at string) echo.HandlerFunc {
	return func(c echo.Context) error {
		k, err := key(c)
		if err != nil {
			return err
		}
		d, err := s.Store.PersonData(c.Request().Context(), k, true)
		if err != nil {
			return err
		}
		p := MyDataPage{Layout: s.Layout(c, "What we hold of you"), Data: *d, Back: at + c.Param("secret")}
		p.Path = at // the address stays out of the page's frame
		return s.Render(c, http.StatusOK, "my_data", p)
	}
}

func (s *Site) myDataFile(key keyOf) echo.HandlerFunc {
	return func(c echo.Context) error {
		k, err := key(c)
		if err != nil {
			return err
		}
		d, err := s.Store.PersonData(c.Request().Context(), k, true)
		if err != nil {
			return err
		}
		return sendData(c, d)
	}
}

// sendData hands the data out as a file, for the person and nobody's cache.
func sendData(c echo.Context, d *store.PersonData) error {
	h := c.Response().Header()
	h.Set(echo.HeaderCacheControl, "no-store")
	h.Set(echo.HeaderContentDisposition, `attachment; filename="my-data.json"`)
	return c.JSONPretty(http.StatusOK, d, " ")
}

func (s *Site) askErase(key keyOf, at string) echo.HandlerFunc {
	return func(c echo.Context) error {
		k, err := key(c)
		if err != nil {
			return err
		}
		if err := s.Store.AskErase(c.Request().Context(), k); err != nil {
			return err
		}
		s.say(c, "Noted. The owner looks at it and answers you.")
		return c.Redirect(http.StatusSeeOther, at+c.Param("secret")+"/data")
	}
}

// ownerKey reads whom the owner means: a guest, or the payer of a booking by its number.
func (s *Site) ownerKey(c echo.Context) (k store.PersonKey, base string, err error) {
	id, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil {
		return k, "", shop.Missing("The person")
	}
	if c.Path()[:len("/owner/people")] == "/owner/people" {
		return store.PersonKey{Guest: shop.GuestID(id)}, fmt.Sprintf("/owner/people/%d", id), nil
	}
	b, err := s.Store.BookingByNumber(c.Request().Context(), int(id))
	if err != nil {
		return k, "", err
	}
	return store.PersonKey{Booking: b.ID}, fmt.Sprintf("/owner/payers/%d", id), nil
}

func (s *Site) ownerData(c echo.Context, status int, f Form) error {
	k, base, err := s.ownerKey(c)
	if err != nil {
		return err
	}
	ctx := c.Request().Context()
	d, err := s.Store.PersonData(ctx, k, false)
	if err != nil {
		return err
	}
	p := OwnerDataPage{Layout: s.Layout(c, "One person's data"), Form: f, Data: *d, Base: base}
	if p.Bars, err = s.Store.EraseBars(ctx, k); err != nil {
		return err
	}
	return s.Render(c, status, "owner_data", p)
}

func (s *Site) ownerDataFile(c echo.Context) error {
	k, _, err := s.ownerKey(c)
	if err != nil {
		return err
	}
	d, err := s.Store.PersonData(c.Request().Context(), k, false)
	if err != nil {
		return err
	}
	return sendData(c, d)
}

func (s *Site) erasePerson(c echo.Context) error {
	k, base, err := s.ownerKey(c)
	if err != nil {
		return err
	}
	f, err := formOf(c)
	if err != nil {
		return err
	}
	if err := s.Store.ErasePerson(c.Request().Context(), api.Actor(c), k, f.Values.Get("why")); err != nil {
		if !refused(&f, err) {
			return err
		}
		return s.ownerData(c, api.Status(err), f)
	}
	s.say(c, "Erased. What safety and the books need stays without the name.")
	return c.Redirect(http.StatusSeeOther, base)
}
