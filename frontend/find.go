package frontend

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var findPages = map[string]Page{
	"find": {Shop, FindPage{}},
}

// FindPage is the counter's one box.
type FindPage struct {
	Layout
	Form  Form
	Q     string
	Hits  []store.Found
	Asked bool
}

func (s *Site) findRoutes(e *echo.Echo) {
	e.GET("/staff/find", s.find, api.Need(shop.Staff))
}

// find leads a whole tag straight to its slab; all else is looked for.
func (s *Site) find(c echo.Context) error {
	ctx, q := c.Request().Context(), strings.TrimSpace(c.QueryParam("q"))
	p := FindPage{Layout: s.Layout(c, "Find"), Q: q, Form: Form{Values: url.Values{"q": {q}}}}
	if !c.QueryParams().Has("q") {
		return s.Render(c, http.StatusOK, "find", p)
	}
	if strings.Contains(q, "-") {
		if v, err := s.Store.Slab(ctx, strings.ToUpper(q)); err == nil {
			return c.Redirect(http.StatusSeeOther, "/staff/slabs/"+url.PathEscape(v.Tag))
		}
	}
	var err error
	if p.Hits, err = s.Store.Find(ctx, q); err != nil {
		if !refused(&p.Form, err) {
			return err
		}
		return s.Render(c, api.Status(err), "find", p)
	}
	p.Asked = true
	return s.Render(c, http.StatusOK, "find", p)
}
