// Package auth decides who may use the field server. Its [Handler] wraps the whole
// server: nothing behind it answers a request that was not admitted.
//
// # Admission
//
// An open handler admits everybody; package listen uses it on loopback, which only this
// machine reaches. Otherwise a join code is asked for. There are two: one admits
// viewers, the other recorders, who may also write marks ([Role]). A right code is
// exchanged for a session in a cookie, signed by a key that is kept between starts, so
// phones stay in when the server restarts. The signature covers the code: a new code
// ends every session of the old one. Map programs without cookies send the code as the
// password of HTTP Basic (RFC 7617), with any user name.
//
// The link and the QR code carry the join code in the fragment, /join#CODE. Browsers
// send a fragment neither in a request, so no log has it, nor as a referrer. The join
// page removes it from the address bar before using it.
//
// # Strength of a code
//
// A generated code has twelve digits, like a long telephone number: phones show the number
// pad for it, it can be read aloud, and no two digits look alike. That is 10^12 codes.
// A code lives for 7 days, and a guess is right for either of two codes.
//
// Wrong codes are counted for each address: five are free, then each makes its
// address wait 3 s, during which none of its codes is compared. Equal wrong codes
// from one address count once, since map programs keep sending an old code. A code that
// proved right is remembered with its address and admitted whatever else that address sends.
//
// The first try of an address is its own. All other tries of an address family share a
// rate: 400 a second for IPv4, 100 for IPv6. An address has a first try again after an hour
// without a wrong code. At most 65,536 addresses of IPv4 (a network of /16) and 4,096 of
// IPv6 (254 of each /64) are remembered; further ones share the rate from their first try on.
//
//	shared    7 d × 86,400 s × (400 + 100)  = 302,400,000
//	first     169 h × (65,536 + 4,096)      =  11,767,808
//	chance    2 × 314,167,808 / 10^12       = 1 in 1,591 for the whole life of a code
//
// This holds for any number of addresses. A server that runs for longer without a restart
// keeps its codes, and each 7 days add as much. Each start of the server gives first tries
// again: a thousand starts a week would add 1 in 7,000. What a guesser with many addresses
// can do to others:
//
//   - Admitted phones, and programs that proved their code, are not affected.
//   - A newcomer at an address without wrong codes in the last hour is admitted at once, as
//     long as fewer than 65,536 addresses were used for guessing.
//   - A newcomer at an address with wrong codes waits 3 s at most, as long as the guessers
//     have no more than 1,200 addresses together (400 a second × 3 s): more than a
//     network of /22 has. With more, the wait is a matter of luck.
//   - A guesser at the newcomer's own address, as behind one router or tunnel, can keep the
//     newcomer out. So can, on IPv6 alone, one who takes addresses without end in the same
//     /64; then the numeric address that the laptop shows, which is IPv4, works.
//
// A chosen code has twelve letters or digits or more. It is as strong as the choice was
// random: 314 million tries in a week find most words that go together.
// The lengths, rates and times here are the project's own choice, no source.
//
// # Limits for each phone
//
// Admitted requests are counted by session and by address ([Phone]): a few run at once,
// and more wait ([ConcurrencyLimiter]). For all this an IPv6 address stands for its /64, which
// counts as eight phones; this machine's own address has no limit, since everybody who
// comes by a tunnel has it.
//
// # What else is refused
//
// A host name that is not this server's own (DNS rebinding), changing requests that
// another site's page causes, other methods, and large bodies. Package listen refuses large
// headers, slow senders and too many connections.
//
// The questions by which phones find out whether a Wi-Fi has internet go to host
// names of their makers. They are refused like every foreign name: an honest
// answer (RFC 8908) needs a public certificate, which a hotspot without
// internet does not have, and the makers' answers are not ours to give.
//
// Strict-Transport-Security is never sent: it does not apply to numeric addresses
// (RFC 6797, 8.1.1), and it would lock phones out on a day without HTTPS.
package auth
