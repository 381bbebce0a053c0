package frontend

import (
	"net/http"
	"strconv"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
	"flitchbook/api/store"
)

var noticePages = map[string]Page{
	"notices": {Shop, NoticesPage{}},
}

// NoticesPage shows the owner how the shop's messages stand.
type NoticesPage struct {
	Layout
	Form  Form
	Board store.NoticeBoard
}

func (s *Site) noticeRoutes(e *echo.Echo) {
	guard := api.Need(shop.Owner)
	e.GET("/owner/notices", s.notices, guard)
	e.POST("/owner/notices/:id/now", s.noticeNow, guard)
	e.POST("/owner/notices/:id/came-back", s.noticeCameBack, guard)
}

func (s *Site) notices(c echo.Context) error { return s.noticesWith(c, http.StatusOK, Form{}) }

func (s *Site) noticesWith(c echo.Context, status int, f Form) error {
	b, err := s.Store.Notices(c.Request().Context())
	if err != nil {
		return err
	}
	return s.Render(c, status, "notices", NoticesPage{Layout: s.Layout(c, "Notices"), Form: f, Board: *b})
}

func (s *Site) noticeNow(c echo.Context) error {
	id, err := noticeID(c)
	if err != nil {
		return err
	}
	return s.noticeDone(c, s.Store.TryNow(c.Request().Context(), api.Actor(c), id), "It is being tried now. Look again in a moment.")
}

func (s *Site) noticeCameBack(c echo.Context) error {
	id, err := noticeID(c)
	if err != nil {
		return err
	}
	return s.noticeDone(c, s.Store.MarkCameBack(c.Request().Context(), api.Actor(c), id), "Noted. Somebody should reach them another way.")
}

func (s *Site) noticeDone(c echo.Context, err error, said string) error {
	if err != nil {
		var f Form
		if !refused(&f, err) {
			return err
		}
		return s.noticesWith(c, api.Status(err), f)
	}
	s.say(c, said)
	return c.Redirect(http.StatusSeeOther, "/owner/notices")
}

func noticeID(c echo.Context) (shop.NoticeID, error) {
	n, err := strconv.ParseInt(c.Param("id"), 10, 64)
	if err != nil {
		return 0, shop.Missing("The message")
	}
	return shop.NoticeID(n), nil
}
