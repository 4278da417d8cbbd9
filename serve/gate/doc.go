// Package gate decides who may come in to the field server. It wraps the whole
// server: nothing behind it answers anybody it has not let in.
//
// # Who comes in
//
// A listener on loopback is open: only this machine reaches it. On any other
// address a join code is asked for. There are two: one lets its holder look, the
// other also write marks ([Role]). A right code is changed for a session in a
// cookie, signed by a key that is kept here, so that phones stay in when the
// server is started again. The signature covers the code: a new code ends every
// session of the old one. Map programs that keep no cookie send the code as the
// password of HTTP Basic (RFC 7617), with any user name.
//
// The link and the QR code carry the join code in the fragment, /join#CODE. A
// fragment is never sent: not in a request, so it is in no log, and not as a
// referrer. The join page takes it out of the address before it uses it.
//
// # What a code is worth
//
// A made code has ten digits, like a telephone number: a phone shows its number
// pad for it, it can be read aloud, and no two digits look alike. That is 10^10.
// Wrong codes are counted for each address: five are free, then each costs a
// wait that doubles from 2 s to 60 s, so one address gets about 65 in an hour. All
// addresses of a family (IPv4, IPv6) together get 4 a second from those with free tries left
// and 2 a second from the others, 12 a second in all, however many addresses
// somebody takes. In a day of ten hours that is 432,000 tries against two codes:
// 1 in 11,600. Addresses of one family cannot use up the tries of the other, those that were
// wrong five times cannot use up those of newcomers, and nobody who is in is asked
// again: one attacker does not lock the crew out.
//
// # What else is refused
//
// A host name that is not this server's own (DNS rebinding), requests that
// another site's page causes and that change something, other methods, large
// bodies and headers, slow senders, too many connections.
//
// The questions by which phones find out whether a Wi-Fi has internet go to host
// names of their makers. They are refused like every strange name: an honest
// answer (RFC 8908) needs a public certificate, which a hotspot without
// internet does not have, and the makers' answers are not ours to give.
//
// Strict-Transport-Security is never sent: it does not hold for numeric addresses
// (RFC 6797, 8.1.1), and it would shut phones out on a day without HTTPS.
package gate
