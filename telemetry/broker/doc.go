// Package broker is the embedded MQTT broker: it lets the shop read what the
// rig tells without a broker of its own.
//
// Default deny: one user, the daemon, may publish below the prefix; readers may
// subscribe below it and nothing else. Readers are anonymous on loopback only.
// What a reader publishes, or leaves as last will, is dropped and counted, and
// never reaches anyone. It remembers no sessions and keeps retained messages in
// memory only; who needs more runs a real broker and names it in the
// configuration.
//
// Only mochi.go knows the broker library. Start reading at broker.go.
package broker
