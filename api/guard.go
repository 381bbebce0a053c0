package api

import (
	"fmt"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"

	"flitchbook/api/shop"
)

// Everything a page loads comes from the shop's own server; no script or style stands
// inline; nobody may put the pages in a frame.
const contentPolicy = "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'self'%s; frame-ancestors 'none'"

// Headers sets what browsers must hold to. Addresses of secret pages are told to no
// other site; answers of the API are kept by nobody unless the operation says so. Over
// TLS browsers are told to come back by TLS only. Forms lead to the shop itself and, by a
// redirect, to the pages of the payment provider, if there is one.
func Headers(tls bool, formsTo ...string) echo.MiddlewareFunc {
	var more strings.Builder
	for _, origin := range formsTo {
		more.WriteString(" " + origin)
	}
	fixed := middleware.SecureWithConfig(middleware.SecureConfig{
		XFrameOptions: "DENY", ContentTypeNosniff: "nosniff", ReferrerPolicy: "same-origin", ContentSecurityPolicy: fmt.Sprintf(contentPolicy, more.String()),
	})
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return fixed(func(c echo.Context) error {
			h := c.Response().Header()
			h.Set("Cross-Origin-Opener-Policy", "same-origin")
			h.Set("Cross-Origin-Resource-Policy", "same-origin")
			h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
			if tls {
				h.Set(echo.HeaderStrictTransportSecurity, "max-age=31536000")
			}
			if strings.HasPrefix(c.Request().URL.Path, "/api/") {
				h.Set(echo.HeaderCacheControl, "no-store")
			}
			return next(c)
		})
	}
}

var errOtherSite = &shop.Error{Kind: shop.Forbidden, Code: "other_site", Text: "This was sent from another site's page, so we changed nothing. Open our own page and press the button there."}

// SameSite refuses changes that another site's page made a browser send. home is the
// shop's own address, for proxies that do not pass the Host on.
func SameSite(home string) (echo.MiddlewareFunc, error) {
	p := http.NewCrossOriginProtection()
	if home != "" {
		if err := p.AddTrustedOrigin(home); err != nil {
			return nil, err
		}
	}
	return func(next echo.HandlerFunc) echo.HandlerFunc {
		return func(c echo.Context) error {
			if err := p.Check(c.Request()); err != nil {
				return errOtherSite
			}
			return next(c)
		}
	}, nil
}
