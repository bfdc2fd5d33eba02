package server

import (
	"crypto/subtle"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"slices"
	"strings"
)

// tokenHeader carries the token. A page from elsewhere cannot send it: a header of its
// own needs a preflight, and this server grants none.
const tokenHeader = "X-Soakline-Token"

// policy follows the OWASP "Content Security Policy Cheat Sheet" (strict policy: all is
// denied, then what the page needs is allowed from itself alone). Inline style
// attributes are allowed because the chart library's tooltip sets them.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; " +
	"img-src 'self' data: blob:; connect-src 'self'; font-src 'self'; manifest-src 'self'; " +
	"base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// headers go with every answer, after the OWASP "HTTP Security Response Headers Cheat
// Sheet". Strict-Transport-Security is left out: this is plain HTTP on loopback.
var headers = map[string]string{
	"Content-Security-Policy":      policy,
	"X-Content-Type-Options":       "nosniff",
	"X-Frame-Options":              "DENY",
	"Referrer-Policy":              "no-referrer",
	"Cross-Origin-Opener-Policy":   "same-origin",
	"Cross-Origin-Resource-Policy": "same-origin",
	"Permissions-Policy":           "camera=(), microphone=(), geolocation=(), payment=(), usb=(), screen-wake-lock=(self), fullscreen=(self)",
}

func secured(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		for name, value := range headers {
			w.Header().Set(name, value)
		}
		next.ServeHTTP(w, r)
	})
}

// access decides who may ask for what. On doubt it refuses.
type access struct {
	token string
	wide  bool
	names []string // lower case
}

// Reachable says whether other computers can reach a listener at addr: the value for
// Config.Wide.
func Reachable(addr net.Addr) bool {
	at, err := netip.ParseAddrPort(addr.String())
	return err == nil && !at.Addr().Unmap().IsLoopback()
}

func newAccess(c Config, token string) access {
	a := access{token: token, wide: c.Wide}
	for _, name := range c.Hosts {
		a.names = append(a.names, plainName(name))
	}
	return a
}

func plainName(host string) string { return strings.TrimSuffix(strings.ToLower(host), ".") }

// host refuses a Host that is not ours on every route: a page whose name an attacker
// points at this computer (DNS rebinding) has a right Origin, but not a right Host.
func (a access) host(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !a.hostAllowed(r.Host) {
			refuse(w, http.StatusMisdirectedRequest, "this name is not served here: use localhost or the address, or list the name at the start")
			return
		}
		next.ServeHTTP(w, r)
	})
}

func (a access) hostAllowed(host string) bool {
	name := host
	if h, _, err := net.SplitHostPort(host); err == nil {
		name = h
	} else if strings.HasPrefix(host, "[") && strings.HasSuffix(host, "]") {
		name = host[1 : len(host)-1]
	}
	name = plainName(name)
	if ip, err := netip.ParseAddr(name); err == nil {
		return a.wide || ip.Unmap().IsLoopback()
	}
	return name == "localhost" || name != "" && slices.Contains(a.names, name)
}

// origin refuses what a page from elsewhere asks for. Browsers send Origin with every
// WebSocket handshake and every POST (OWASP "WebSocket Security Cheat Sheet": validate
// the Origin header during the handshake; "Cross-Site Request Forgery Prevention Cheat
// Sheet": verify the origin with standard headers, and Fetch Metadata where it is sent).
func (a access) origin(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !sameOrigin(r) {
			refuse(w, http.StatusForbidden, "this request comes from another page")
			return
		}
		next.ServeHTTP(w, r)
	})
}

func sameOrigin(r *http.Request) bool {
	if strings.HasPrefix(r.URL.Path, "/api/") {
		// A link from elsewhere may lead to the page, not to its data.
		if site := r.Header.Get("Sec-Fetch-Site"); site != "" && site != "same-origin" && site != "none" {
			return false
		}
	}
	all, sent := r.Header["Origin"]
	if !sent {
		return true
	}
	if len(all) != 1 {
		return false
	}
	u, err := url.Parse(all[0])
	return err == nil && (u.Scheme == "http" || u.Scheme == "https") && u.User == nil && strings.EqualFold(u.Host, r.Host)
}

// writer lets a change of state through that carries the token.
func (a access) writer(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		got := r.Header.Get(tokenHeader)
		if subtle.ConstantTimeCompare([]byte(got), []byte(a.token)) != 1 {
			refuse(w, http.StatusForbidden, "the token is missing or wrong: load the page again")
			return
		}
		next.ServeHTTP(w, r)
	})
}

// tokenFor is the token for a viewer on this computer; others may only look.
func (a access) tokenFor(r *http.Request) string {
	from, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil || !from.Addr().Unmap().IsLoopback() {
		return ""
	}
	return a.token
}
