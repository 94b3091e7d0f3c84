// Package book keeps the record in one SQLite file.
//
// A book is an ordinary SQLite database with an application_id of its own; its
// layout is the scripts under migrations, counted by user_version, and the coding
// of beats described in chunk.go. Any SQLite tool can read it. It lies in WAL mode
// and is written with synchronous=FULL: what a method has stored when it returns
// nil is on the disk.
//
// Nothing recorded is changed or deleted. An edit of a clock, the end of a session
// and an undo are rows of their own, and triggers in the file refuse anything
// else, whoever writes. The sole exception is [Book.CompactBeats].
package book
