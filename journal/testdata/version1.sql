-- A journal with tables of version 1, as the first release wrote it. Never changed.
PRAGMA application_id = 1886546543;
PRAGMA user_version = 1;

CREATE TABLE reserved (          -- one row: numbers given away
	one   INTEGER PRIMARY KEY CHECK (one = 1),
	cycle INTEGER NOT NULL,
	run   INTEGER NOT NULL,
	probe INTEGER NOT NULL       -- wall clock of the newest trial write, unix ms
) STRICT;
INSERT INTO reserved VALUES (1, 0, 0, 0);
CREATE TABLE document (          -- recipe and profile texts, each kept once
	hash BLOB NOT NULL PRIMARY KEY CHECK (length(hash) = 32), -- SHA-256 of body
	body BLOB NOT NULL
) STRICT;
CREATE TABLE cycle (
	number           INTEGER PRIMARY KEY,
	run              INTEGER NOT NULL,
	piece            INTEGER NOT NULL,
	dummy            INTEGER NOT NULL,
	last             INTEGER NOT NULL,
	guarded          INTEGER NOT NULL,
	by_name          TEXT NOT NULL,
	rig              TEXT NOT NULL,
	recipe           TEXT NOT NULL,
	recipe_hash      BLOB NOT NULL REFERENCES document (hash),
	profile_hash     BLOB NOT NULL REFERENCES document (hash),
	capabilities     TEXT NOT NULL,               -- JSON of rig.Capabilities
	started_ms       INTEGER NOT NULL,            -- wall clock, unix ms
	start_elapsed_ms INTEGER NOT NULL,            -- loop's clock
	ended_ms         INTEGER,                     -- NULL while it runs
	state            TEXT NOT NULL DEFAULT '',
	reason           TEXT NOT NULL DEFAULT '',
	cause            INTEGER NOT NULL DEFAULT 0,  -- first cause
	lockout          INTEGER NOT NULL DEFAULT 0,
	recovered        INTEGER NOT NULL DEFAULT 0,  -- closed by Open
	saved_ms         INTEGER NOT NULL DEFAULT 0   -- trace of a recovered cycle
) STRICT;
CREATE TABLE phase (
	cycle INTEGER NOT NULL REFERENCES cycle (number),
	place INTEGER NOT NULL,
	name  TEXT NOT NULL,
	kind  TEXT NOT NULL,
	PRIMARY KEY (cycle, place)
) STRICT;
CREATE TABLE record (
	id         INTEGER PRIMARY KEY,
	cycle      INTEGER REFERENCES cycle (number), -- NULL outside a cycle
	kind       INTEGER NOT NULL,                  -- controller.Rec...
	elapsed_ms INTEGER NOT NULL,
	wall_ms    INTEGER NOT NULL,
	stamp_ms   INTEGER NOT NULL,
	phase      INTEGER NOT NULL,
	state      INTEGER NOT NULL,
	command    INTEGER NOT NULL,
	cause      INTEGER NOT NULL,
	causes     INTEGER NOT NULL,                  -- 64 bits as they are
	lockout    INTEGER NOT NULL,
	prompt     INTEGER NOT NULL,
	name       TEXT NOT NULL,
	value      REAL,                              -- NULL: not a number
	unit       TEXT NOT NULL,
	reason     TEXT NOT NULL,
	by_name    TEXT NOT NULL
) STRICT;
CREATE INDEX record_by_cycle ON record (cycle, id);
CREATE UNIQUE INDEX record_one_start ON record (cycle) WHERE kind = 1 AND cycle IS NOT NULL;
CREATE UNIQUE INDEX record_one_end ON record (cycle) WHERE kind = 12 AND cycle IS NOT NULL;
CREATE TABLE chunk (
	id         INTEGER PRIMARY KEY,
	cycle      INTEGER NOT NULL REFERENCES cycle (number),
	seq        INTEGER NOT NULL,                  -- 0, 1, ... without a hole
	steps      INTEGER NOT NULL,
	gap_steps  INTEGER NOT NULL,                  -- steps lost in this place
	first_tick INTEGER NOT NULL,
	last_tick  INTEGER NOT NULL,
	last_ms    INTEGER NOT NULL,                  -- elapsed at the last step
	wall_ms    INTEGER NOT NULL,                  -- wall clock when it was packed
	data       BLOB,                              -- package chunk
	UNIQUE (cycle, seq),
	CHECK ((steps > 0 AND gap_steps = 0 AND data IS NOT NULL)
		OR (steps = 0 AND gap_steps > 0 AND data IS NULL))
) STRICT;
DELETE FROM reserved;
INSERT INTO reserved (one, cycle, run, probe) VALUES (1, 2, 0, 0);
INSERT INTO document (hash, body) VALUES (x'db0caef491029f39a18649100d52068acba3fd0bc3e20cf57356584aabbc3ba0', x'6e616d653a206f6374616c2d390a');
INSERT INTO document (hash, body) VALUES (x'73620aab0a8c348687d0a521dce9a0afa9efbf9d8c28b58b5c0c27eeab94d03f', x'6e616d653a2062656e63682d310a');
INSERT INTO cycle (number, run, piece, dummy, last, guarded, by_name, rig, recipe, recipe_hash, profile_hash, capabilities, started_ms, start_elapsed_ms, ended_ms, state, reason, cause, lockout, recovered, saved_ms) VALUES (1, 2, 3, 0, 1, 1, 'Ada', 'bench-1', 'octal-9', x'db0caef491029f39a18649100d52068acba3fd0bc3e20cf57356584aabbc3ba0', x'73620aab0a8c348687d0a521dce9a0afa9efbf9d8c28b58b5c0c27eeab94d03f', '{"Protocol":1,"Device":0,"Firmware":"1.0.0","ConfigHash":0,"FittedIn":0,"FittedAnalog":0,"Scale":1,"Session":0}', 1795597200000, 1000, 1795597200000, 'aborted', 'flame lost while pressing', 3, 1, 0, 0);
INSERT INTO cycle (number, run, piece, dummy, last, guarded, by_name, rig, recipe, recipe_hash, profile_hash, capabilities, started_ms, start_elapsed_ms, ended_ms, state, reason, cause, lockout, recovered, saved_ms) VALUES (2, 2, 3, 0, 1, 1, 'Ada', 'bench-1', 'octal-9', x'db0caef491029f39a18649100d52068acba3fd0bc3e20cf57356584aabbc3ba0', x'73620aab0a8c348687d0a521dce9a0afa9efbf9d8c28b58b5c0c27eeab94d03f', '{"Protocol":1,"Device":0,"Firmware":"1.0.0","ConfigHash":0,"FittedIn":0,"FittedAnalog":0,"Scale":1,"Session":0}', 1795597200000, 9000, NULL, '', '', 0, 0, 0, 0);
INSERT INTO phase (cycle, place, name, kind) VALUES (1, 0, 'heat', 'fire');
INSERT INTO phase (cycle, place, name, kind) VALUES (1, 1, 'form', 'press');
INSERT INTO phase (cycle, place, name, kind) VALUES (2, 0, 'heat', 'fire');
INSERT INTO phase (cycle, place, name, kind) VALUES (2, 1, 'form', 'press');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (1, 1, 1, 1000, 1795597200000, 0, -1, 0, 0, 0, 0, 0, 0, '', 0, '', '', '');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (2, 1, 10, 1000, 1795597200000, 0, 0, 0, 1, 0, 0, 0, 0, '', 0, '', '', 'Ada');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (3, 1, 8, 1000, 1795597200000, 0, 0, 0, 0, 0, 0, 0, 1, '', 0, '', 'blank seated?', '');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (4, 1, 9, 1500, 1795597200000, 0, 0, 0, 0, 0, 0, 0, 1, '', 1, '', '', 'Ada');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (5, 1, 2, 2000, 1795597200000, 0, 0, 0, 0, 0, 0, 0, 0, '', 0, '', '', '');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (6, 1, 3, 3000, 1795597200000, 0, 0, 0, 0, 0, 0, 0, 0, '', 0, '', 'at temperature', '');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (7, 1, 2, 3000, 1795597200000, 0, 1, 0, 0, 0, 0, 0, 0, '', 0, '', '', '');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (8, 1, 6, 3100, 1795597200000, 0, 1, 0, 0, 0, 0, 0, 0, '', 0, '', 'contact', '');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (9, 1, 7, 3200, 1795597200000, 0, 1, 0, 0, 0, 0, 0, 0, 'transfer', 1.25, 's', '', '');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (10, 1, 11, 3300, 1795597200000, 0, 1, 0, 0, 21, 0, 0, 0, '', 0, '', '', '');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (11, 1, 5, 3400, 1795597200000, 0, 1, 0, 0, 3, 2097160, 1, 0, '', 0, '', '', '');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (12, 1, 4, 3400, 1795597200000, 0, 1, 11, 0, 0, 0, 0, 0, '', 0, '', '', '');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (13, 1, 12, 4000, 1795597200000, 0, -1, 12, 0, 3, 0, 0, 0, '', 0, '', 'flame lost while pressing', '');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (14, 2, 1, 9000, 1795597200000, 0, -1, 0, 0, 0, 0, 0, 0, '', 0, '', '', '');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (15, 2, 2, 9500, 1795597200000, 0, 0, 0, 0, 0, 0, 0, 0, '', 0, '', '', '');
INSERT INTO record (id, cycle, kind, elapsed_ms, wall_ms, stamp_ms, phase, state, command, cause, causes, lockout, prompt, name, value, unit, reason, by_name) VALUES (16, 2, 4, 9400, 1795597200000, 0, 0, 2, 0, 0, 0, 0, 0, '', 0, '', '', '');
INSERT INTO chunk (id, cycle, seq, steps, gap_steps, first_tick, last_tick, last_ms, wall_ms, data) VALUES (1, 1, 0, 100, 0, 1, 100, 986, 1795597200000, x'01af015d8f9c0128b52ffd60550095040022891e28803701001c26acb08211d16966a02450a11372021dcc2206a42383c901c167c889a6933df9df3f0fb79d282c813608ec44331f6eb3a228938b546dc917539bb75d106e0f72778cbb3bde629a9e8217731504531430a9ecda0b7442023018b17043a2391157b61c289bf6e61850f64850b61e5a73afa9fe321207003535e32a78242cc1882230ddf224d80040dd11db6db6c6c7b6dbccd9b66c67b6db6db6db66db6db366db66cdecdb6db6db6db637b5d68b1e8cf31d4aac6ae876bad88858cd574bd3357b002d3799d0a1e6c407c51e38e40fac658d9c6d8d334dd70b4420aa7020f29b1c738e92e41c7984311cd30577c6dc9e646371b2658448add44c2192539c152032c8637359b0d748b066e61333b0b5162b67048d10dd928409324db05611b5962b592d1b1e8b360662016c363169d36f31355960ade4353d8a32076f1ad2b59402ca425030103c5e249f84d5a003bc32e7a203dc21c226b1b048a3205f53b1500bac4b3be4e21054024ff030b38cc31ce7c7c3022f261aae3ce70cf139b93c3678b1395b8f39cc9877c5cc0f9832c90cc2ca4c9c809c7a410dcbcc9c8db022420a7262b82f6312e4c9977937ccce5b2e5733708f1b0773c5cce4e661c370a4f04e58124e6063a36f79b316786be278399b73cc9c4953736648170e2caf677abd21db9a5e1e4dd9c99621260f18c4c42506390cbc96b3730636cb2eb252c2a13b582ceb985018539c8c20321cbe02de6f22726cd280d73be298813ab2de0e7598788ed4d583519d3c719eb0c998dc9b22947515c622f883c5884d931d44f303ffffc00000000000000001ffffe000000180000000000000000300000024a905e54248285e520924a3c85020408f69424840ec4248425ee1241251ee0284a0768249408f692810147b');
INSERT INTO chunk (id, cycle, seq, steps, gap_steps, first_tick, last_tick, last_ms, wall_ms, data) VALUES (2, 1, 1, 20, 0, 101, 120, 1184, 1795597200000, x'01328ecb0a9c0128b52ffd20bc9d040072c91f28902701004bcc0f7092e482068c4fd7caef88fcd350946e98b400540e2bf889c984484bf6e4bdf73cb7056838028d18d8592f276e739224dfe19982b53d93c6a5f9dd56896e9fc6a39452a718d384e0302e7751302d81cf24cb9b2bd08a8480839987772c44675d9ee5964a64f9e5363e084e0883251a5c36ccc2f8d93d1506003f35e34a5016ba0b259c16d2c85c1666db36dedbdb67894c8bea14e66ed55dd2491e7079e1e49577be432359f35ac1a2d65d053318a7920ee74df1da3e79dd7851260e4961c08f1bcb31358f5d858f967066b1d1d69ced4f741e946986a926bd206420877700fffff0000300202501479509248760');
INSERT INTO chunk (id, cycle, seq, steps, gap_steps, first_tick, last_tick, last_ms, wall_ms, data) VALUES (3, 2, 0, 100, 0, 1001, 1100, 11006, 1795597200000, x'0185f57d84a70128b52ffd60bb00ed040012091f2790450121d9514dbb34c145135b432d7c2ddca28d5db0ccd4cbf3a68bef0fdb9326ee9efaefbe07fc1f3920446281c288e243030fb1691abeab0ce0fe9719703d37cbffcec4bf35476b89368500d773455812a809cb0acebce9483c54120c190217551d05d43cf7ec4ce7d6a419957383e0bc2e35749901ae63dd470b003f35e34af08328768200ca7b24308120918898e2c645c6136428ee0ddb66db36db36db6db6db7b66d9b6f66db666d9bdb6db7b66db6dedb6d9edb6db6db6db6c12401d624f077e43d59cee2778b6e5e6aca261cebc13b273d3ce0c4c97f02779df8dcdc3cf5858773226968642153fbe72a4cc3485857095924f29231891968634cf200c8e4458e6ad9924d3193e0b529594160992fad2e5eec2e25f4cb24a37a2b5b6c98ee8eb49ec0d69b9d12e9a15566e8223838db6ea6d68c62692016cdb16184a3262460234c6d04214a36e9113884212468e26f20a7f2fcc9198c87ba463389ace4de390c9974f2b996b40ced0af79858558a6262ab28244a39c4e381295c35781f0d84cc726722bcc272c5122a96757b565bd3161dbb9cd87c322a724d606a6d5c68f341d685bd76c231cdd17061cb65efaf581d1a4365f6cadb21daca231b0d39f1b9d7727147724c64133f061421999cc1685975f32784979ba9cb7840301ccf85f2dc99a40f148100a834935b9d88850e839a127cce70f9e4b989e52d4ce1cde2c1e4c444ce558adf67113a96e4b46408273112d231eb4e66eb8dd27f5ad42c0c2e489930eeb151d4e9e712cf731d8c9cd9075a6d684283ba1c1d3a5527deb7d4885930cf1ae88000001ffffe000000000000000000000000c000000000000000000484051ed2849243ca80a142f70904928f7084080a3c85092103b0a040497984924147b81092423da49284179');
