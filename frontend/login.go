package frontend

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/labstack/echo/v4"

	"flitchbook/api"
	"flitchbook/api/shop"
)

var loginPages = map[string]Page{
	"login": {Public, LoginPage{}},
}

// LoginPage asks for login and password.
type LoginPage struct {
	Layout
	Form Form
	Then string // page of ours to go to afterwards
}

func (s *Site) loginRoutes(e *echo.Echo) {
	if s.Sessions == nil {
		return
	}
	e.GET("/login", s.loginForm)
	e.POST("/login", s.login)
	e.POST("/logout", s.logout)
}

func (s *Site) loginForm(c echo.Context) error {
	then := ownPath(c.QueryParam("then"))
	if api.Actor(c).IsStaff() {
		return c.Redirect(http.StatusSeeOther, then)
	}
	return s.Render(c, http.StatusOK, "login", LoginPage{Layout: s.Layout(c, "Sign in"), Then: then})
}

func (s *Site) login(c echo.Context) error {
	login, then := c.FormValue("login"), ownPath(c.FormValue("then"))
	who, cookie, err := s.Sessions.SignIn(c.Request().Context(), login, c.FormValue("password"))
	if e, ok := shop.AsError(err); ok && (e.Code == shop.ErrSignIn.Code || e.Kind == shop.TooMany) {
		status := http.StatusUnprocessableEntity
		if e.Kind == shop.TooMany {
			status = http.StatusTooManyRequests
			c.Response().Header().Set(echo.HeaderRetryAfter, "60")
		}
		p := LoginPage{Layout: s.Layout(c, "Sign in"), Form: Form{Values: url.Values{"login": {login}}}, Then: then}
		p.Form.Fail("", e.Text)
		return s.Render(c, status, "login", p)
	}
	if err != nil {
		return err
	}
	c.SetCookie(cookie)
	s.say(c, "Welcome, "+who.Name+".")
	return c.Redirect(http.StatusSeeOther, then)
}

func (s *Site) logout(c echo.Context) error {
	cookie, err := s.Sessions.SignOut(c.Request().Context(), s.Sessions.Token(c))
	if err != nil {
		return err
	}
	c.SetCookie(cookie)
	s.say(c, "You are signed out.")
	return c.Redirect(http.StatusSeeOther, "/login")
}

// ownPath is where to go after signing in: a page of ours, never another site's.
func ownPath(then string) string {
	u, err := url.Parse(then)
	if err != nil || u.Host != "" || u.Scheme != "" || !strings.HasPrefix(then, "/") ||
		strings.HasPrefix(then, "//") || strings.ContainsAny(then, "\\\r\n\t") {
		return "/staff/today"
	}
	return then
}
