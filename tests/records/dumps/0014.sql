BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0014');
CREATE TABLE build (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	scale_as_written TEXT NOT NULL, 
	ratio_numerator INTEGER NOT NULL, 
	ratio_denominator INTEGER NOT NULL, 
	process TEXT, 
	tolerance_as_written TEXT, 
	tolerance_mm FLOAT, 
	notes TEXT, 
	CONSTRAINT pk_build PRIMARY KEY (id), 
	CONSTRAINT uq_build_name_key UNIQUE (name_key), 
	CONSTRAINT uq_build_public_id UNIQUE (public_id)
);
INSERT INTO "build" VALUES(1,'bf13q5vwpsr','Crane in 7 mm','crane in 7 mm','1:43.5',87,2,'resin','0.1mm',0.1,NULL);
CREATE TABLE build_subject (
	id INTEGER NOT NULL, 
	build_id INTEGER NOT NULL, 
	subject_id INTEGER NOT NULL, 
	CONSTRAINT pk_build_subject PRIMARY KEY (id), 
	CONSTRAINT fk_build_subject_build_id_build FOREIGN KEY(build_id) REFERENCES build (id), 
	CONSTRAINT fk_build_subject_subject_id_subject FOREIGN KEY(subject_id) REFERENCES subject (id), 
	CONSTRAINT uq_build_subject_build_id_subject_id UNIQUE (build_id, subject_id)
);
INSERT INTO "build_subject" VALUES(1,1,2);
CREATE TABLE change (
	number INTEGER NOT NULL, 
	act INTEGER NOT NULL, 
	at_utc TEXT NOT NULL, 
	door TEXT NOT NULL, 
	sentence TEXT NOT NULL, 
	undoes INTEGER, 
	"before" JSON NOT NULL, 
	"after" JSON NOT NULL, 
	highest_keys JSON NOT NULL, 
	CONSTRAINT pk_change PRIMARY KEY (number)
);
INSERT INTO "change" VALUES(1,1,'2026-11-29T02:19:23.811+00:00','Python','wrote down what was seen at Wendle Basin',NULL,'[["place", 1, null], ["visit", 1, null], ["visit", 2, null], ["photo", 1, null], ["photo", 2, null], ["photo", 3, null], ["original", 1, null], ["original", 2, null], ["original", 3, null], ["visit_file", 1, null], ["track", 1, null], ["clock", 1, null], ["subject", 1, null], ["subject", 2, null], ["subject_name", 1, null], ["sighting", 1, null], ["sighting", 2, null], ["sighting", 3, null], ["instrument", 1, null], ["instrument", 2, null], ["usual_limit", 1, null], ["instrument_check", 1, null], ["wanted_size", 1, null], ["kept_search", 1, null], ["verdict", 1, null], ["dimension", 1, null], ["reading", 1, null], ["reading", 2, null], ["tape_run", 1, null], ["run_reading", 1, null], ["tally", 1, null], ["tally_size", 1, null], ["source", 1, null], ["source", 2, null], ["reading_source", 1, null], ["reading_source", 2, null], ["estimate", 1, null], ["estimate_source", 1, null], ["estimate_source", 2, null], ["build", 1, null], ["build_subject", 1, null], ["mark", 1, null], ["derivation", 1, null], ["derivation_input", 1, null], ["derivation_mark", 1, null], ["lens", 1, null], ["visit_name", 1, null], ["removed_file", 1, null], ["kind", 1, null]]','[["place", 1, {"id": 1, "public_id": "l53205b03gn", "name": "Wendle Basin", "name_key": "wendle basin", "latitude": null, "longitude": null, "notes": null}], ["visit", 1, {"id": 1, "public_id": "vtg2by5wxb6", "name": "Wendle Basin, June", "name_key": "wendle basin, june", "place_id": 1, "first_day": "2023-06-17", "last_day": "2023-06-17", "zone": "Europe/London", "people": "the warden\u2019s daughter", "access_notes": "ask at the caf\u00e9 \u2014 gate is locked at 17:00", "folder": "2023-06-17 wendle-basin-june", "folder_key": "2023-06-17 wendle-basin-june"}], ["visit", 2, {"id": 2, "public_id": "vkv5vbcm6gt", "name": "Wendle Basin, again", "name_key": "wendle basin, again", "place_id": 1, "first_day": null, "last_day": null, "zone": "Europe/London", "people": null, "access_notes": null, "folder": "undated wendle-basin-again", "folder_key": "undated wendle-basin-again"}], ["photo", 1, {"id": 1, "width": 4000, "height": 3000, "stored_width": null, "stored_height": null, "orientation": null, "taken": "2023-06-17T11:02:00", "taken_as_read": null, "utc_offset": null, "subsecond": null, "make": null, "model": null, "lens": null, "focal_mm": 4.3, "focal_35mm": null, "latitude": null, "longitude": null, "altitude_m": null, "bearing_deg": null, "bearing_reference": null, "caption": null, "creator": null, "rights": null, "clock_ahead_s": null, "page": null, "page_of_id": null, "paper_width_mm": null, "paper_height_mm": null, "position_from": null, "position_radius_m": null, "utc_offset_by_gps": null, "digital_zoom": null, "width_as_taken": null, "height_as_taken": null, "sensor_px_per_mm": null, "ordered_at": "2023-06-17T11:02:00", "name_order": "hc00220_003412.jpg", "file": "HC20_0412.JPG", "keywords": ["wharf", "crane \u00bd"], "readers": {}, "warnings": [{"code": "no-zone", "message": "no offset"}], "public_id": "p0arfwcha71", "visit_id": 1, "file_key": "hc20_0412.jpg", "stem_key": "hc20_0412"}], ["photo", 2, {"id": 2, "width": 4000, "height": 3000, "stored_width": null, "stored_height": null, "orientation": null, "taken": "2023-06-17T11:03:00", "taken_as_read": null, "utc_offset": null, "subsecond": null, "make": null, "model": null, "lens": null, "focal_mm": 4.3, "focal_35mm": null, "latitude": null, "longitude": null, "altitude_m": null, "bearing_deg": null, "bearing_reference": null, "caption": null, "creator": null, "rights": null, "clock_ahead_s": null, "page": null, "page_of_id": null, "paper_width_mm": null, "paper_height_mm": null, "position_from": null, "position_radius_m": null, "utc_offset_by_gps": null, "digital_zoom": null, "width_as_taken": null, "height_as_taken": null, "sensor_px_per_mm": null, "ordered_at": "2023-06-17T11:03:00", "name_order": "hc00220_003413.jpg", "file": "HC20_0413.JPG", "keywords": ["wharf", "crane \u00bd"], "readers": {}, "warnings": [{"code": "no-zone", "message": "no offset"}], "public_id": "p1vg1j0nm2y", "visit_id": 1, "file_key": "hc20_0413.jpg", "stem_key": "hc20_0413"}], ["photo", 3, {"id": 3, "width": 4000, "height": 3000, "stored_width": null, "stored_height": null, "orientation": null, "taken": "2023-06-17T11:04:00", "taken_as_read": null, "utc_offset": null, "subsecond": null, "make": null, "model": null, "lens": null, "focal_mm": 4.3, "focal_35mm": null, "latitude": null, "longitude": null, "altitude_m": null, "bearing_deg": null, "bearing_reference": null, "caption": null, "creator": null, "rights": null, "clock_ahead_s": null, "page": null, "page_of_id": null, "paper_width_mm": null, "paper_height_mm": null, "position_from": null, "position_radius_m": null, "utc_offset_by_gps": null, "digital_zoom": null, "width_as_taken": null, "height_as_taken": null, "sensor_px_per_mm": null, "ordered_at": "2023-06-17T11:04:00", "name_order": "hc00220_003414.jpg", "file": "HC20_0414.JPG", "keywords": ["wharf", "crane \u00bd"], "readers": {}, "warnings": [{"code": "no-zone", "message": "no offset"}], "public_id": "pb1wx91akyn", "visit_id": 1, "file_key": "hc20_0414.jpg", "stem_key": "hc20_0414"}], ["original", 1, {"id": 1, "photo_id": 1, "role": "picture", "stored_path": "visits/2023-06-17 wendle-basin-june/HC20_0412.JPG", "path_key": "visits/2023-06-17 wendle-basin-june/hc20_0412.jpg", "name_as_found": "HC20_0412.JPG", "sha256": "0000000000000000000000000000000000000000000000000000000000000002", "bytes": 9}], ["original", 2, {"id": 2, "photo_id": 2, "role": "picture", "stored_path": "visits/2023-06-17 wendle-basin-june/HC20_0413.JPG", "path_key": "visits/2023-06-17 wendle-basin-june/hc20_0413.jpg", "name_as_found": "HC20_0413.JPG", "sha256": "0000000000000000000000000000000000000000000000000000000000000003", "bytes": 9}], ["original", 3, {"id": 3, "photo_id": 3, "role": "picture", "stored_path": "visits/2023-06-17 wendle-basin-june/HC20_0414.JPG", "path_key": "visits/2023-06-17 wendle-basin-june/hc20_0414.jpg", "name_as_found": "HC20_0414.JPG", "sha256": "0000000000000000000000000000000000000000000000000000000000000004", "bytes": 9}], ["visit_file", 1, {"id": 1, "public_id": "f4q6tnx1pk3", "visit_id": 1, "role": "film", "stored_path": "visits/2023-06-17 wendle-basin-june/round the crane.mp4", "path_key": "visits/2023-06-17 wendle-basin-june/round the crane.mp4", "name_as_found": "round the crane.mp4", "sha256": "ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff", "bytes": 9}], ["track", 1, {"id": 1, "visit_file_id": 1, "points": [[1687000000.0, 52.5, -1.5]]}], ["clock", 1, {"id": 1, "visit_id": 1, "camera": "Halden C20", "ahead_s": 4020, "first_read": null, "last_read": null}], ["subject", 1, {"id": 1, "public_id": "sen402wgjpm", "name": "Wendle Basin wharf", "name_key": "wendle basin wharf", "kind": null, "part_of_id": null, "place_id": 1, "maker": null, "numbers": null, "era": null, "notes": null}], ["subject", 2, {"id": 2, "public_id": "s1hjgaq3qem", "name": "Wharf crane", "name_key": "wharf crane", "kind": "crane", "part_of_id": 1, "place_id": null, "maker": "\u00d6tteley & Sons", "numbers": null, "era": null, "notes": null}], ["subject_name", 1, {"id": 1, "subject_id": 2, "name": "Hand crane", "name_key": "hand crane"}], ["sighting", 1, {"id": 1, "public_id": "gjxv3f8zmf6", "photo_id": 1, "subject_id": 2, "view": "front", "mirrored": false, "region": null}], ["sighting", 2, {"id": 2, "public_id": "gd83n8vz761", "photo_id": 2, "subject_id": 2, "view": "front", "mirrored": false, "region": null}], ["sighting", 3, {"id": 3, "public_id": "g7ak1v62sw4", "photo_id": 3, "subject_id": 2, "view": "front", "mirrored": false, "region": null}], ["instrument", 1, {"id": 1, "public_id": "iwj0wpft782", "name": "long tape", "name_key": "long tape", "kind": "tape", "resolution_mm": 1.0, "limit_as_written": "0.3 mm + 0.2 mm/m", "limit_constant_mm": 0.3, "limit_per_mm": 0.0002, "steady": true, "notes": null, "drawn_at": null}], ["instrument", 2, {"id": 2, "public_id": "i14tnv5kkqc", "name": "drawing of the crane", "name_key": "drawing of the crane", "kind": "drawing", "resolution_mm": null, "limit_as_written": null, "limit_constant_mm": null, "limit_per_mm": null, "steady": true, "notes": null, "drawn_at": "1:48"}], ["usual_limit", 1, {"id": 1, "kind": "laser", "limit_as_written": "1.5 mm + 0.1 mm/m", "limit_constant_mm": 1.5, "limit_per_mm": 0.0001, "resolution_mm": null, "why": "the maker''s sheet"}], ["instrument_check", 1, {"id": 1, "public_id": "kek4py2mfg5", "instrument_id": 1, "reference_as_written": "2743mm \u00b1 1mm", "reference_mm": 2743.0, "reference_resolution_mm": 1.0, "reference_tolerance_mm": 1.0, "reference_approximate": false, "reading_as_written": "2.745 m", "reading_mm": 2745.0, "reading_resolution_mm": 1.0, "visit_id": 1, "taken_on": "2023-06-17"}], ["wanted_size", 1, {"id": 1, "subject_id": 2, "label_key": "jib length", "label": "jib length", "decision": "wanted", "precision_as_written": "\u00b1 10 mm", "precision_constant": 10.0, "precision_share": null}], ["kept_search", 1, {"id": 1, "name_key": "posts to model", "name": "Posts to model", "asked": {"words": "post", "kind": "bollard"}}], ["verdict", 1, {"id": 1, "subject_id": 2, "missing": 8, "unfit": 0, "roughest_mm": 14.6}], ["dimension", 1, {"id": 1, "public_id": "djjk306tyrv", "subject_id": 2, "label": "jib length", "label_key": "jib length", "state": "as found", "state_key": "as found", "span": "centres", "quantity": "length"}], ["reading", 1, {"id": 1, "tolerance": null, "rests_on": null, "sister_tolerance": null, "visit_id": null, "replaces_id": null, "derived_by": null, "set_aside": null, "note": null, "public_id": "r7ac043sv18", "as_written": "18ft 5in", "value": 5613.4, "value_mm": 5613.4, "quantity": "length", "unit": "mm", "resolution": 25.4, "resolution_mm": 25.4, "approximate": false, "grade": "measured", "instrument_id": 1, "photo_id": 1, "taken_on": "2023-06-17", "dimension_id": 1}], ["reading", 2, {"id": 2, "tolerance": null, "rests_on": null, "sister_tolerance": null, "visit_id": null, "derived_by": null, "set_aside": null, "note": null, "public_id": "ra1rkevya50", "as_written": "18ft 6in", "value": 5638.8, "value_mm": 5638.8, "replaces_id": 1, "quantity": "length", "unit": "mm", "resolution": 25.4, "resolution_mm": 25.4, "approximate": false, "grade": "measured", "instrument_id": 1, "photo_id": 1, "taken_on": "2023-06-17", "dimension_id": 1}], ["tape_run", 1, {"id": 1, "public_id": "t1yhabw0vqj", "subject_id": 2, "title": "along the jib", "title_key": "along the jib", "as_written": "0; head 18ft 6in", "replaces_id": null}], ["run_reading", 1, {"id": 1, "tape_run_id": 1, "reading_id": 2, "place": 0}], ["tally", 1, {"id": 1, "public_id": "y6aa93s7dt1", "subject_id": 2, "as_written": "jib length = 18ft 6in", "outcome": {}}], ["tally_size", 1, {"id": 1, "tally_id": 1, "number": 0, "dimension_id": 1}], ["source", 1, {"id": 1, "kind": "offset", "of_record": "iwj0wpft782", "component": "", "degrees_of_freedom": null, "distribution": "normal"}], ["source", 2, {"id": 2, "kind": "rounding", "of_record": "jib", "component": "", "degrees_of_freedom": null, "distribution": "rectangular"}], ["reading_source", 1, {"id": 1, "reading_id": 2, "source_id": 1, "sensitivity": 1.2}], ["reading_source", 2, {"id": 2, "reading_id": 2, "source_id": 2, "sensitivity": 7.332}], ["estimate", 1, {"id": 1, "degrees_of_freedom": null, "agree": null, "dimension_id": 1, "value": 5638.8, "standard_uncertainty": 7.429550726659048, "quantity": "length", "unit": "mm", "value_mm": 5638.8, "low_95": 5624.2, "high_95": 5653.4, "grade": "measured", "readings": 1, "formulas": 1, "warnings": []}], ["estimate_source", 1, {"id": 1, "estimate_id": 1, "source_id": 1, "sensitivity": 1.2}], ["estimate_source", 2, {"id": 2, "estimate_id": 1, "source_id": 2, "sensitivity": 7.332}], ["build", 1, {"id": 1, "public_id": "bf13q5vwpsr", "name": "Crane in 7 mm", "name_key": "crane in 7 mm", "scale_as_written": "1:43.5", "ratio_numerator": 87, "ratio_denominator": 2, "process": "resin", "tolerance_as_written": "0.1mm", "tolerance_mm": 0.1, "notes": null}], ["build_subject", 1, {"id": 1, "build_id": 1, "subject_id": 2}], ["mark", 1, {"id": 1, "public_id": "mjntsrcps57", "photo_id": 1, "name": "jib foot", "name_key": "jib foot", "x_px": 812.5, "y_px": 1604.25, "clear": "worn", "snapped": null, "sigma_px": null}], ["derivation", 1, {"id": 1, "public_id": "w0123456789", "photo_id": 1, "method": "lens", "recipe": {"known": [{"from": "jib foot", "to": "jib head", "input": 0}], "asked": []}, "solved": false, "why": null, "results": []}], ["derivation_input", 1, {"id": 1, "derivation_id": 1, "number": 0, "dimension_id": 1}], ["derivation_mark", 1, {"id": 1, "derivation_id": 1, "mark_id": 1}], ["lens", 1, {"id": 1, "derivation_id": 1, "camera": "Halden C20", "focal_mm": 4.3, "width": 4000, "height": 3000, "model": "division", "strength": -0.02, "off_x_px": 1.5, "off_y_px": -2.0, "norm_radius_px": 2500.0, "factor": [[0.001, 0.0, 0.0], [0.1, 9.0, 0.0], [0.2, 0.3, 9.0]]}], ["visit_name", 1, {"id": 1, "visit_id": 1, "name": "The first time", "name_key": "the first time"}], ["removed_file", 1, {"id": 1, "photo": "p0000000000", "file": "HC20_0411.JPG", "role": "picture", "stored_path": "removed/2023-06-17 wendle-basin-june/HC20_0411.JPG", "path_key": "removed/2023-06-17 wendle-basin-june/hc20_0411.jpg", "sha256": "ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff", "bytes": 9}], ["kind", 1, {"id": 1, "slug": "wharf-crane", "name": "wharf crane", "name_key": "wharf crane", "broader": "crane", "words": ["quay crane"], "views": ["front"], "sizes": ["jib length"]}]]','{"place": 1, "visit": 2, "photo": 3, "original": 3, "visit_file": 1, "track": 1, "clock": 1, "subject": 2, "subject_name": 1, "sighting": 3, "instrument": 2, "usual_limit": 1, "instrument_check": 1, "wanted_size": 1, "kept_search": 1, "verdict": 1, "dimension": 1, "reading": 2, "tape_run": 1, "run_reading": 1, "tally": 1, "tally_size": 1, "source": 2, "reading_source": 2, "estimate": 1, "estimate_source": 2, "build": 1, "build_subject": 1, "mark": 1, "derivation": 1, "derivation_input": 1, "derivation_mark": 1, "lens": 1, "visit_name": 1, "removed_file": 1, "kind": 1}');
CREATE TABLE clock (
	id INTEGER NOT NULL, 
	visit_id INTEGER NOT NULL, 
	camera TEXT NOT NULL, 
	ahead_s INTEGER NOT NULL, 
	first_read TEXT, 
	last_read TEXT, 
	CONSTRAINT pk_clock PRIMARY KEY (id), 
	CONSTRAINT fk_clock_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id)
);
INSERT INTO "clock" VALUES(1,1,'Halden C20',4020,NULL,NULL);
CREATE TABLE derivation (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	photo_id INTEGER, 
	method TEXT NOT NULL, 
	recipe JSON NOT NULL, 
	solved BOOLEAN NOT NULL, 
	why TEXT, 
	results JSON NOT NULL, 
	CONSTRAINT pk_derivation PRIMARY KEY (id), 
	CONSTRAINT fk_derivation_photo_id_photo FOREIGN KEY(photo_id) REFERENCES photo (id), 
	CONSTRAINT uq_derivation_public_id UNIQUE (public_id)
);
INSERT INTO "derivation" VALUES(1,'w0123456789',1,'lens','{"known": [{"from": "jib foot", "to": "jib head", "input": 0}], "asked": []}',0,NULL,'[]');
CREATE TABLE derivation_input (
	id INTEGER NOT NULL, 
	derivation_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	dimension_id INTEGER, 
	CONSTRAINT pk_derivation_input PRIMARY KEY (id), 
	CONSTRAINT fk_derivation_input_derivation_id_derivation FOREIGN KEY(derivation_id) REFERENCES derivation (id), 
	CONSTRAINT fk_derivation_input_dimension_id_dimension FOREIGN KEY(dimension_id) REFERENCES dimension (id), 
	CONSTRAINT uq_derivation_input_derivation_id_number UNIQUE (derivation_id, number)
);
INSERT INTO "derivation_input" VALUES(1,1,0,1);
CREATE TABLE derivation_mark (
	id INTEGER NOT NULL, 
	derivation_id INTEGER NOT NULL, 
	mark_id INTEGER NOT NULL, 
	CONSTRAINT pk_derivation_mark PRIMARY KEY (id), 
	CONSTRAINT fk_derivation_mark_derivation_id_derivation FOREIGN KEY(derivation_id) REFERENCES derivation (id), 
	CONSTRAINT fk_derivation_mark_mark_id_mark FOREIGN KEY(mark_id) REFERENCES mark (id), 
	CONSTRAINT uq_derivation_mark_derivation_id_mark_id UNIQUE (derivation_id, mark_id)
);
INSERT INTO "derivation_mark" VALUES(1,1,1);
CREATE TABLE dimension (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	subject_id INTEGER NOT NULL, 
	label TEXT NOT NULL, 
	label_key TEXT NOT NULL, 
	state TEXT NOT NULL, 
	state_key TEXT NOT NULL, 
	span TEXT NOT NULL, 
	quantity TEXT NOT NULL, 
	CONSTRAINT pk_dimension PRIMARY KEY (id), 
	CONSTRAINT fk_dimension_subject_id_subject FOREIGN KEY(subject_id) REFERENCES subject (id), 
	CONSTRAINT uq_dimension_public_id UNIQUE (public_id), 
	CONSTRAINT uq_dimension_subject_id_label_key_state_key_span UNIQUE (subject_id, label_key, state_key, span)
);
INSERT INTO "dimension" VALUES(1,'djjk306tyrv',2,'jib length','jib length','as found','as found','centres','length');
CREATE TABLE estimate (
	id INTEGER NOT NULL, 
	dimension_id INTEGER NOT NULL, 
	quantity TEXT NOT NULL, 
	value FLOAT NOT NULL, 
	unit TEXT NOT NULL, 
	value_mm FLOAT, 
	standard_uncertainty FLOAT NOT NULL, 
	low_95 FLOAT NOT NULL, 
	high_95 FLOAT NOT NULL, 
	degrees_of_freedom FLOAT, 
	agree BOOLEAN, 
	grade TEXT NOT NULL, 
	readings INTEGER NOT NULL, 
	formulas INTEGER NOT NULL, 
	warnings JSON NOT NULL, 
	CONSTRAINT pk_estimate PRIMARY KEY (id), 
	CONSTRAINT fk_estimate_dimension_id_dimension FOREIGN KEY(dimension_id) REFERENCES dimension (id), 
	CONSTRAINT uq_estimate_dimension_id UNIQUE (dimension_id)
);
INSERT INTO "estimate" VALUES(1,1,'length',5638.8,'mm',5638.8,7.42955072665904836526e+00,5624.2,5653.4,NULL,NULL,'measured',1,1,'[]');
CREATE TABLE estimate_source (
	id INTEGER NOT NULL, 
	estimate_id INTEGER NOT NULL, 
	source_id INTEGER NOT NULL, 
	sensitivity FLOAT NOT NULL, 
	CONSTRAINT pk_estimate_source PRIMARY KEY (id), 
	CONSTRAINT fk_estimate_source_estimate_id_estimate FOREIGN KEY(estimate_id) REFERENCES estimate (id), 
	CONSTRAINT fk_estimate_source_source_id_source FOREIGN KEY(source_id) REFERENCES source (id), 
	CONSTRAINT uq_estimate_source_estimate_id_source_id UNIQUE (estimate_id, source_id)
);
INSERT INTO "estimate_source" VALUES(1,1,1,1.2);
INSERT INTO "estimate_source" VALUES(2,1,2,7.332);
CREATE TABLE fingerprint (
	id INTEGER NOT NULL, 
	photo_id INTEGER NOT NULL, 
	bits TEXT NOT NULL, 
	CONSTRAINT pk_fingerprint PRIMARY KEY (id), 
	CONSTRAINT fk_fingerprint_photo_id_photo FOREIGN KEY(photo_id) REFERENCES photo (id), 
	CONSTRAINT uq_fingerprint_photo_id UNIQUE (photo_id)
);
INSERT INTO "fingerprint" VALUES(1,1,'0123456789abcdef0123456789abcdef');
INSERT INTO "fingerprint" VALUES(2,2,'');
CREATE TABLE instrument (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	kind TEXT, 
	resolution_mm FLOAT, 
	limit_as_written TEXT, 
	limit_constant_mm FLOAT, 
	limit_per_mm FLOAT, 
	steady BOOLEAN NOT NULL, 
	notes TEXT, drawn_at TEXT, 
	CONSTRAINT pk_instrument PRIMARY KEY (id), 
	CONSTRAINT uq_instrument_name_key UNIQUE (name_key), 
	CONSTRAINT uq_instrument_public_id UNIQUE (public_id)
);
INSERT INTO "instrument" VALUES(1,'iwj0wpft782','long tape','long tape','tape',1.0,'0.3 mm + 0.2 mm/m',0.3,0.0002,1,NULL,NULL);
INSERT INTO "instrument" VALUES(2,'i14tnv5kkqc','drawing of the crane','drawing of the crane','drawing',NULL,NULL,NULL,NULL,1,NULL,'1:48');
CREATE TABLE instrument_check (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	instrument_id INTEGER NOT NULL, 
	reference_as_written TEXT NOT NULL, 
	reference_mm FLOAT NOT NULL, 
	reference_resolution_mm FLOAT, 
	reference_tolerance_mm FLOAT, 
	reference_approximate BOOLEAN NOT NULL, 
	reading_as_written TEXT NOT NULL, 
	reading_mm FLOAT NOT NULL, 
	reading_resolution_mm FLOAT, 
	visit_id INTEGER, 
	taken_on TEXT, 
	CONSTRAINT pk_instrument_check PRIMARY KEY (id), 
	CONSTRAINT fk_instrument_check_instrument_id_instrument FOREIGN KEY(instrument_id) REFERENCES instrument (id), 
	CONSTRAINT fk_instrument_check_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id), 
	CONSTRAINT uq_instrument_check_public_id UNIQUE (public_id)
);
INSERT INTO "instrument_check" VALUES(1,'kek4py2mfg5',1,'2743mm ± 1mm',2743.0,1.0,1.0,0,'2.745 m',2745.0,1.0,1,'2023-06-17');
CREATE TABLE kept_search (
	id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	asked JSON NOT NULL, 
	CONSTRAINT pk_kept_search PRIMARY KEY (id), 
	CONSTRAINT uq_kept_search_name_key UNIQUE (name_key)
);
INSERT INTO "kept_search" VALUES(1,'Posts to model','posts to model','{"words": "post", "kind": "bollard"}');
CREATE TABLE kind (
	id INTEGER NOT NULL, 
	slug TEXT NOT NULL, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	broader TEXT NOT NULL, 
	words JSON NOT NULL, 
	views JSON NOT NULL, 
	sizes JSON NOT NULL, 
	CONSTRAINT pk_kind PRIMARY KEY (id), 
	CONSTRAINT uq_kind_name_key UNIQUE (name_key), 
	CONSTRAINT uq_kind_slug UNIQUE (slug)
);
INSERT INTO "kind" VALUES(1,'wharf-crane','wharf crane','wharf crane','crane','["quay crane"]','["front"]','["jib length"]');
CREATE TABLE lens (
	id INTEGER NOT NULL, 
	derivation_id INTEGER NOT NULL, 
	camera TEXT NOT NULL, 
	focal_mm FLOAT, 
	width INTEGER NOT NULL, 
	height INTEGER NOT NULL, 
	model TEXT NOT NULL, 
	strength FLOAT NOT NULL, 
	off_x_px FLOAT NOT NULL, 
	off_y_px FLOAT NOT NULL, 
	norm_radius_px FLOAT NOT NULL, 
	factor JSON NOT NULL, 
	CONSTRAINT pk_lens PRIMARY KEY (id), 
	CONSTRAINT fk_lens_derivation_id_derivation FOREIGN KEY(derivation_id) REFERENCES derivation (id), 
	CONSTRAINT uq_lens_derivation_id UNIQUE (derivation_id)
);
INSERT INTO "lens" VALUES(1,1,'Halden C20',4.3,4000,3000,'division',-0.02,1.5,-2.0,2500.0,'[[0.001, 0.0, 0.0], [0.1, 9.0, 0.0], [0.2, 0.3, 9.0]]');
CREATE TABLE mark (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	photo_id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	x_px FLOAT NOT NULL, 
	y_px FLOAT NOT NULL, 
	clear TEXT NOT NULL, 
	snapped TEXT, 
	sigma_px FLOAT, 
	CONSTRAINT pk_mark PRIMARY KEY (id), 
	CONSTRAINT fk_mark_photo_id_photo FOREIGN KEY(photo_id) REFERENCES photo (id), 
	CONSTRAINT uq_mark_photo_id_name_key UNIQUE (photo_id, name_key), 
	CONSTRAINT uq_mark_public_id UNIQUE (public_id)
);
INSERT INTO "mark" VALUES(1,'mjntsrcps57',1,'jib foot','jib foot',812.5,1604.25,'worn',NULL,NULL);
CREATE TABLE original (
	id INTEGER NOT NULL, 
	photo_id INTEGER NOT NULL, 
	role TEXT NOT NULL, 
	stored_path TEXT NOT NULL, 
	path_key TEXT NOT NULL, 
	name_as_found TEXT NOT NULL, 
	sha256 TEXT NOT NULL, 
	bytes INTEGER NOT NULL, 
	CONSTRAINT pk_original PRIMARY KEY (id), 
	CONSTRAINT fk_original_photo_id_photo FOREIGN KEY(photo_id) REFERENCES photo (id), 
	CONSTRAINT uq_original_path_key UNIQUE (path_key), 
	CONSTRAINT uq_original_sha256 UNIQUE (sha256)
);
INSERT INTO "original" VALUES(1,1,'picture','visits/2023-06-17 wendle-basin-june/HC20_0412.JPG','visits/2023-06-17 wendle-basin-june/hc20_0412.jpg','HC20_0412.JPG','0000000000000000000000000000000000000000000000000000000000000002',9);
INSERT INTO "original" VALUES(2,2,'picture','visits/2023-06-17 wendle-basin-june/HC20_0413.JPG','visits/2023-06-17 wendle-basin-june/hc20_0413.jpg','HC20_0413.JPG','0000000000000000000000000000000000000000000000000000000000000003',9);
INSERT INTO "original" VALUES(3,3,'picture','visits/2023-06-17 wendle-basin-june/HC20_0414.JPG','visits/2023-06-17 wendle-basin-june/hc20_0414.jpg','HC20_0414.JPG','0000000000000000000000000000000000000000000000000000000000000004',9);
CREATE TABLE pending_move (
	id INTEGER NOT NULL, 
	from_path TEXT NOT NULL, 
	to_path TEXT NOT NULL, 
	sha256 TEXT NOT NULL, 
	CONSTRAINT pk_pending_move PRIMARY KEY (id)
);
CREATE TABLE "photo" (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	visit_id INTEGER NOT NULL, 
	file TEXT NOT NULL, 
	file_key TEXT NOT NULL, 
	stem_key TEXT NOT NULL, 
	width INTEGER, 
	height INTEGER, 
	stored_width INTEGER, 
	stored_height INTEGER, 
	orientation INTEGER, 
	taken TEXT, 
	taken_as_read TEXT, 
	utc_offset TEXT, 
	subsecond TEXT, 
	make TEXT, 
	model TEXT, 
	lens TEXT, 
	focal_mm FLOAT, 
	focal_35mm FLOAT, 
	latitude FLOAT, 
	longitude FLOAT, 
	altitude_m FLOAT, 
	bearing_deg FLOAT, 
	bearing_reference TEXT, 
	caption TEXT, 
	keywords JSON NOT NULL, 
	creator TEXT, 
	rights TEXT, 
	readers JSON NOT NULL, 
	warnings JSON NOT NULL, 
	clock_ahead_s INTEGER, 
	position_from TEXT, 
	position_radius_m FLOAT, 
	page INTEGER, 
	page_of_id INTEGER, 
	paper_width_mm FLOAT, 
	paper_height_mm FLOAT, utc_offset_by_gps TEXT, digital_zoom FLOAT, width_as_taken INTEGER, height_as_taken INTEGER, sensor_px_per_mm FLOAT, ordered_at TEXT, name_order TEXT, 
	CONSTRAINT pk_photo PRIMARY KEY (id), 
	CONSTRAINT uq_photo_public_id UNIQUE (public_id), 
	CONSTRAINT fk_photo_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id), 
	CONSTRAINT fk_photo_page_of_id_photo FOREIGN KEY(page_of_id) REFERENCES photo (id)
);
INSERT INTO "photo" VALUES(1,'p0arfwcha71',1,'HC20_0412.JPG','hc20_0412.jpg','hc20_0412',4000,3000,NULL,NULL,NULL,'2023-06-17T11:02:00',NULL,NULL,NULL,NULL,NULL,NULL,4.3,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'["wharf", "crane \u00bd"]',NULL,NULL,'{}','[{"code": "no-zone", "message": "no offset"}]',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'2023-06-17T11:02:00','hc00220_003412.jpg');
INSERT INTO "photo" VALUES(2,'p1vg1j0nm2y',1,'HC20_0413.JPG','hc20_0413.jpg','hc20_0413',4000,3000,NULL,NULL,NULL,'2023-06-17T11:03:00',NULL,NULL,NULL,NULL,NULL,NULL,4.3,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'["wharf", "crane \u00bd"]',NULL,NULL,'{}','[{"code": "no-zone", "message": "no offset"}]',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'2023-06-17T11:03:00','hc00220_003413.jpg');
INSERT INTO "photo" VALUES(3,'pb1wx91akyn',1,'HC20_0414.JPG','hc20_0414.jpg','hc20_0414',4000,3000,NULL,NULL,NULL,'2023-06-17T11:04:00',NULL,NULL,NULL,NULL,NULL,NULL,4.3,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'["wharf", "crane \u00bd"]',NULL,NULL,'{}','[{"code": "no-zone", "message": "no offset"}]',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'2023-06-17T11:04:00','hc00220_003414.jpg');
CREATE TABLE place (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	latitude FLOAT, 
	longitude FLOAT, 
	notes TEXT, 
	CONSTRAINT pk_place PRIMARY KEY (id), 
	CONSTRAINT uq_place_name_key UNIQUE (name_key), 
	CONSTRAINT uq_place_public_id UNIQUE (public_id)
);
INSERT INTO "place" VALUES(1,'l53205b03gn','Wendle Basin','wendle basin',NULL,NULL,NULL);
CREATE TABLE reading (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	dimension_id INTEGER NOT NULL, 
	as_written TEXT NOT NULL, 
	quantity TEXT NOT NULL, 
	value FLOAT NOT NULL, 
	unit TEXT NOT NULL, 
	value_mm FLOAT, 
	resolution FLOAT, 
	resolution_mm FLOAT, 
	tolerance FLOAT, 
	approximate BOOLEAN NOT NULL, 
	grade TEXT NOT NULL, 
	rests_on TEXT, 
	instrument_id INTEGER, 
	photo_id INTEGER, 
	visit_id INTEGER, 
	taken_on TEXT, 
	replaces_id INTEGER, 
	derived_by TEXT, 
	set_aside TEXT, 
	note TEXT, sister_tolerance FLOAT, 
	CONSTRAINT pk_reading PRIMARY KEY (id), 
	CONSTRAINT fk_reading_dimension_id_dimension FOREIGN KEY(dimension_id) REFERENCES dimension (id), 
	CONSTRAINT fk_reading_instrument_id_instrument FOREIGN KEY(instrument_id) REFERENCES instrument (id), 
	CONSTRAINT fk_reading_photo_id_photo FOREIGN KEY(photo_id) REFERENCES photo (id), 
	CONSTRAINT fk_reading_replaces_id_reading FOREIGN KEY(replaces_id) REFERENCES reading (id), 
	CONSTRAINT fk_reading_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id), 
	CONSTRAINT uq_reading_public_id UNIQUE (public_id)
);
INSERT INTO "reading" VALUES(1,'r7ac043sv18',1,'18ft 5in','length',5613.4,'mm',5613.4,25.4,25.4,NULL,0,'measured',NULL,1,1,NULL,'2023-06-17',NULL,NULL,NULL,NULL,NULL);
INSERT INTO "reading" VALUES(2,'ra1rkevya50',1,'18ft 6in','length',5638.8,'mm',5638.8,25.4,25.4,NULL,0,'measured',NULL,1,1,NULL,'2023-06-17',1,NULL,NULL,NULL,NULL);
CREATE TABLE reading_source (
	id INTEGER NOT NULL, 
	reading_id INTEGER NOT NULL, 
	source_id INTEGER NOT NULL, 
	sensitivity FLOAT NOT NULL, 
	CONSTRAINT pk_reading_source PRIMARY KEY (id), 
	CONSTRAINT fk_reading_source_reading_id_reading FOREIGN KEY(reading_id) REFERENCES reading (id), 
	CONSTRAINT fk_reading_source_source_id_source FOREIGN KEY(source_id) REFERENCES source (id), 
	CONSTRAINT uq_reading_source_reading_id_source_id UNIQUE (reading_id, source_id)
);
INSERT INTO "reading_source" VALUES(1,2,1,1.2);
INSERT INTO "reading_source" VALUES(2,2,2,7.332);
CREATE TABLE removed_file (
	id INTEGER NOT NULL, 
	photo TEXT NOT NULL, 
	file TEXT NOT NULL, 
	role TEXT NOT NULL, 
	stored_path TEXT NOT NULL, 
	path_key TEXT NOT NULL, 
	sha256 TEXT NOT NULL, 
	bytes INTEGER NOT NULL, 
	CONSTRAINT pk_removed_file PRIMARY KEY (id), 
	CONSTRAINT uq_removed_file_path_key UNIQUE (path_key)
);
INSERT INTO "removed_file" VALUES(1,'p0000000000','HC20_0411.JPG','picture','removed/2023-06-17 wendle-basin-june/HC20_0411.JPG','removed/2023-06-17 wendle-basin-june/hc20_0411.jpg','ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff',9);
CREATE TABLE run_reading (
	id INTEGER NOT NULL, 
	tape_run_id INTEGER NOT NULL, 
	reading_id INTEGER NOT NULL, 
	place INTEGER NOT NULL, 
	CONSTRAINT pk_run_reading PRIMARY KEY (id), 
	CONSTRAINT fk_run_reading_reading_id_reading FOREIGN KEY(reading_id) REFERENCES reading (id), 
	CONSTRAINT fk_run_reading_tape_run_id_tape_run FOREIGN KEY(tape_run_id) REFERENCES tape_run (id), 
	CONSTRAINT uq_run_reading_reading_id UNIQUE (reading_id)
);
INSERT INTO "run_reading" VALUES(1,1,2,0);
CREATE TABLE sighting (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	photo_id INTEGER NOT NULL, 
	subject_id INTEGER NOT NULL, 
	"view" TEXT, 
	mirrored BOOLEAN NOT NULL, 
	region JSON, 
	CONSTRAINT pk_sighting PRIMARY KEY (id), 
	CONSTRAINT fk_sighting_photo_id_photo FOREIGN KEY(photo_id) REFERENCES photo (id), 
	CONSTRAINT fk_sighting_subject_id_subject FOREIGN KEY(subject_id) REFERENCES subject (id), 
	CONSTRAINT uq_sighting_photo_id_subject_id UNIQUE (photo_id, subject_id), 
	CONSTRAINT uq_sighting_public_id UNIQUE (public_id)
);
INSERT INTO "sighting" VALUES(1,'gjxv3f8zmf6',1,2,'front',0,'null');
INSERT INTO "sighting" VALUES(2,'gd83n8vz761',2,2,'front',0,'null');
INSERT INTO "sighting" VALUES(3,'g7ak1v62sw4',3,2,'front',0,'null');
CREATE TABLE source (
	id INTEGER NOT NULL, 
	kind TEXT NOT NULL, 
	of_record TEXT NOT NULL, 
	component TEXT NOT NULL, 
	degrees_of_freedom FLOAT, 
	distribution TEXT NOT NULL, 
	CONSTRAINT pk_source PRIMARY KEY (id), 
	CONSTRAINT uq_source_of_record_kind_component UNIQUE (of_record, kind, component)
);
INSERT INTO "source" VALUES(1,'offset','iwj0wpft782','',NULL,'normal');
INSERT INTO "source" VALUES(2,'rounding','jib','',NULL,'rectangular');
CREATE TABLE subject (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	kind TEXT, 
	part_of_id INTEGER, 
	place_id INTEGER, 
	maker TEXT, 
	numbers TEXT, 
	era TEXT, 
	notes TEXT, 
	CONSTRAINT pk_subject PRIMARY KEY (id), 
	CONSTRAINT fk_subject_part_of_id_subject FOREIGN KEY(part_of_id) REFERENCES subject (id), 
	CONSTRAINT fk_subject_place_id_place FOREIGN KEY(place_id) REFERENCES place (id), 
	CONSTRAINT uq_subject_name_key UNIQUE (name_key), 
	CONSTRAINT uq_subject_public_id UNIQUE (public_id)
);
INSERT INTO "subject" VALUES(1,'sen402wgjpm','Wendle Basin wharf','wendle basin wharf',NULL,NULL,1,NULL,NULL,NULL,NULL);
INSERT INTO "subject" VALUES(2,'s1hjgaq3qem','Wharf crane','wharf crane','crane',1,NULL,'Ötteley & Sons',NULL,NULL,NULL);
CREATE TABLE subject_name (
	id INTEGER NOT NULL, 
	subject_id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	CONSTRAINT pk_subject_name PRIMARY KEY (id), 
	CONSTRAINT fk_subject_name_subject_id_subject FOREIGN KEY(subject_id) REFERENCES subject (id), 
	CONSTRAINT uq_subject_name_name_key UNIQUE (name_key)
);
INSERT INTO "subject_name" VALUES(1,2,'Hand crane','hand crane');
CREATE TABLE tally (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	subject_id INTEGER NOT NULL, 
	as_written TEXT NOT NULL, 
	outcome JSON NOT NULL, 
	CONSTRAINT pk_tally PRIMARY KEY (id), 
	CONSTRAINT fk_tally_subject_id_subject FOREIGN KEY(subject_id) REFERENCES subject (id), 
	CONSTRAINT uq_tally_public_id UNIQUE (public_id)
);
INSERT INTO "tally" VALUES(1,'y6aa93s7dt1',2,'jib length = 18ft 6in','{}');
CREATE TABLE tally_size (
	id INTEGER NOT NULL, 
	tally_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	dimension_id INTEGER, 
	CONSTRAINT pk_tally_size PRIMARY KEY (id), 
	CONSTRAINT fk_tally_size_dimension_id_dimension FOREIGN KEY(dimension_id) REFERENCES dimension (id), 
	CONSTRAINT fk_tally_size_tally_id_tally FOREIGN KEY(tally_id) REFERENCES tally (id), 
	CONSTRAINT uq_tally_size_tally_id_number UNIQUE (tally_id, number)
);
INSERT INTO "tally_size" VALUES(1,1,0,1);
CREATE TABLE tape_run (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	subject_id INTEGER NOT NULL, 
	title TEXT NOT NULL, 
	title_key TEXT NOT NULL, 
	as_written TEXT NOT NULL, 
	replaces_id INTEGER, 
	CONSTRAINT pk_tape_run PRIMARY KEY (id), 
	CONSTRAINT fk_tape_run_replaces_id_tape_run FOREIGN KEY(replaces_id) REFERENCES tape_run (id), 
	CONSTRAINT fk_tape_run_subject_id_subject FOREIGN KEY(subject_id) REFERENCES subject (id), 
	CONSTRAINT uq_tape_run_public_id UNIQUE (public_id)
);
INSERT INTO "tape_run" VALUES(1,'t1yhabw0vqj',2,'along the jib','along the jib','0; head 18ft 6in',NULL);
CREATE TABLE track (
	id INTEGER NOT NULL, 
	visit_file_id INTEGER NOT NULL, 
	points JSON NOT NULL, 
	CONSTRAINT pk_track PRIMARY KEY (id), 
	CONSTRAINT fk_track_visit_file_id_visit_file FOREIGN KEY(visit_file_id) REFERENCES visit_file (id), 
	CONSTRAINT uq_track_visit_file_id UNIQUE (visit_file_id)
);
INSERT INTO "track" VALUES(1,1,'[[1687000000.0, 52.5, -1.5]]');
CREATE TABLE usual_limit (
	id INTEGER NOT NULL, 
	kind TEXT NOT NULL, 
	limit_as_written TEXT NOT NULL, 
	limit_constant_mm FLOAT NOT NULL, 
	limit_per_mm FLOAT NOT NULL, 
	resolution_mm FLOAT, 
	why TEXT NOT NULL, 
	CONSTRAINT pk_usual_limit PRIMARY KEY (id), 
	CONSTRAINT uq_usual_limit_kind UNIQUE (kind)
);
INSERT INTO "usual_limit" VALUES(1,'laser','1.5 mm + 0.1 mm/m',1.5,0.0001,NULL,'the maker''s sheet');
CREATE TABLE verdict (
	id INTEGER NOT NULL, 
	subject_id INTEGER NOT NULL, 
	missing INTEGER NOT NULL, 
	unfit INTEGER NOT NULL, 
	roughest_mm FLOAT, 
	CONSTRAINT pk_verdict PRIMARY KEY (id), 
	CONSTRAINT fk_verdict_subject_id_subject FOREIGN KEY(subject_id) REFERENCES subject (id), 
	CONSTRAINT uq_verdict_subject_id UNIQUE (subject_id)
);
INSERT INTO "verdict" VALUES(1,2,8,0,14.6);
CREATE TABLE visit (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	place_id INTEGER, 
	first_day TEXT, 
	last_day TEXT, 
	zone TEXT NOT NULL, 
	people TEXT, 
	access_notes TEXT, 
	folder TEXT NOT NULL, 
	folder_key TEXT NOT NULL, 
	CONSTRAINT pk_visit PRIMARY KEY (id), 
	CONSTRAINT fk_visit_place_id_place FOREIGN KEY(place_id) REFERENCES place (id), 
	CONSTRAINT uq_visit_folder_key UNIQUE (folder_key), 
	CONSTRAINT uq_visit_name_key UNIQUE (name_key), 
	CONSTRAINT uq_visit_public_id UNIQUE (public_id)
);
INSERT INTO "visit" VALUES(1,'vtg2by5wxb6','Wendle Basin, June','wendle basin, june',1,'2023-06-17','2023-06-17','Europe/London','the warden’s daughter','ask at the café — gate is locked at 17:00','2023-06-17 wendle-basin-june','2023-06-17 wendle-basin-june');
INSERT INTO "visit" VALUES(2,'vkv5vbcm6gt','Wendle Basin, again','wendle basin, again',1,NULL,NULL,'Europe/London',NULL,NULL,'undated wendle-basin-again','undated wendle-basin-again');
CREATE TABLE visit_file (
	id INTEGER NOT NULL, 
	public_id TEXT NOT NULL, 
	visit_id INTEGER NOT NULL, 
	role TEXT NOT NULL, 
	stored_path TEXT NOT NULL, 
	path_key TEXT NOT NULL, 
	name_as_found TEXT NOT NULL, 
	sha256 TEXT NOT NULL, 
	bytes INTEGER NOT NULL, 
	CONSTRAINT pk_visit_file PRIMARY KEY (id), 
	CONSTRAINT fk_visit_file_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id), 
	CONSTRAINT uq_visit_file_path_key UNIQUE (path_key), 
	CONSTRAINT uq_visit_file_public_id UNIQUE (public_id), 
	CONSTRAINT uq_visit_file_sha256 UNIQUE (sha256)
);
INSERT INTO "visit_file" VALUES(1,'f4q6tnx1pk3',1,'film','visits/2023-06-17 wendle-basin-june/round the crane.mp4','visits/2023-06-17 wendle-basin-june/round the crane.mp4','round the crane.mp4','ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff',9);
CREATE TABLE visit_name (
	id INTEGER NOT NULL, 
	visit_id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	name_key TEXT NOT NULL, 
	CONSTRAINT pk_visit_name PRIMARY KEY (id), 
	CONSTRAINT fk_visit_name_visit_id_visit FOREIGN KEY(visit_id) REFERENCES visit (id), 
	CONSTRAINT uq_visit_name_name_key UNIQUE (name_key)
);
INSERT INTO "visit_name" VALUES(1,1,'The first time','the first time');
CREATE TABLE wanted_size (
	id INTEGER NOT NULL, 
	subject_id INTEGER NOT NULL, 
	label TEXT NOT NULL, 
	label_key TEXT NOT NULL, 
	decision TEXT NOT NULL, 
	precision_as_written TEXT, 
	precision_constant FLOAT, 
	precision_share FLOAT, 
	CONSTRAINT pk_wanted_size PRIMARY KEY (id), 
	CONSTRAINT fk_wanted_size_subject_id_subject FOREIGN KEY(subject_id) REFERENCES subject (id), 
	CONSTRAINT uq_wanted_size_subject_id_label_key UNIQUE (subject_id, label_key)
);
INSERT INTO "wanted_size" VALUES(1,2,'jib length','jib length','wanted','± 10 mm',10.0,NULL);
CREATE INDEX ix_change_act ON change (act);
CREATE INDEX ix_change_undoes ON change (undoes);
CREATE INDEX ix_subject_part_of_id ON subject (part_of_id);
CREATE INDEX ix_subject_place_id ON subject (place_id);
CREATE INDEX ix_visit_place_id ON visit (place_id);
CREATE INDEX ix_build_subject_build_id ON build_subject (build_id);
CREATE INDEX ix_build_subject_subject_id ON build_subject (subject_id);
CREATE INDEX ix_dimension_label_key ON dimension (label_key);
CREATE INDEX ix_dimension_subject_id ON dimension (subject_id);
CREATE INDEX ix_subject_name_subject_id ON subject_name (subject_id);
CREATE INDEX ix_estimate_value_mm ON estimate (value_mm);
CREATE INDEX ix_original_photo_id ON original (photo_id);
CREATE INDEX ix_reading_dimension_id ON reading (dimension_id);
CREATE INDEX ix_reading_instrument_id ON reading (instrument_id);
CREATE INDEX ix_reading_photo_id ON reading (photo_id);
CREATE INDEX ix_reading_replaces_id ON reading (replaces_id);
CREATE INDEX ix_reading_visit_id ON reading (visit_id);
CREATE INDEX ix_sighting_photo_id ON sighting (photo_id);
CREATE INDEX ix_sighting_subject_id ON sighting (subject_id);
CREATE INDEX ix_estimate_source_estimate_id ON estimate_source (estimate_id);
CREATE INDEX ix_estimate_source_source_id ON estimate_source (source_id);
CREATE INDEX ix_reading_source_reading_id ON reading_source (reading_id);
CREATE INDEX ix_reading_source_source_id ON reading_source (source_id);
CREATE INDEX ix_visit_name_visit_id ON visit_name (visit_id);
CREATE INDEX ix_removed_file_sha256 ON removed_file (sha256);
CREATE INDEX ix_mark_photo_id ON mark (photo_id);
CREATE INDEX ix_derivation_photo_id ON derivation (photo_id);
CREATE INDEX ix_derivation_input_derivation_id ON derivation_input (derivation_id);
CREATE INDEX ix_derivation_input_dimension_id ON derivation_input (dimension_id);
CREATE INDEX ix_derivation_mark_derivation_id ON derivation_mark (derivation_id);
CREATE INDEX ix_derivation_mark_mark_id ON derivation_mark (mark_id);
CREATE INDEX ix_lens_camera ON lens (camera);
CREATE INDEX ix_instrument_check_instrument_id ON instrument_check (instrument_id);
CREATE INDEX ix_instrument_check_visit_id ON instrument_check (visit_id);
CREATE INDEX ix_wanted_size_subject_id ON wanted_size (subject_id);
CREATE INDEX ix_tape_run_replaces_id ON tape_run (replaces_id);
CREATE INDEX ix_tape_run_subject_id ON tape_run (subject_id);
CREATE INDEX ix_run_reading_tape_run_id ON run_reading (tape_run_id);
CREATE INDEX ix_tally_subject_id ON tally (subject_id);
CREATE INDEX ix_tally_size_dimension_id ON tally_size (dimension_id);
CREATE INDEX ix_tally_size_tally_id ON tally_size (tally_id);
CREATE INDEX ix_visit_file_visit_id ON visit_file (visit_id);
CREATE INDEX ix_clock_visit_id ON clock (visit_id);
CREATE INDEX ix_photo_visit_id ON photo (visit_id);
CREATE INDEX ix_photo_file_key ON photo (file_key);
CREATE INDEX ix_photo_taken ON photo (taken);
CREATE INDEX ix_photo_stem_key ON photo (stem_key);
CREATE INDEX ix_photo_page_of_id ON photo (page_of_id);
CREATE INDEX ix_sighting_subject_id_view ON sighting (subject_id, "view");
CREATE INDEX ix_photo_latitude_longitude ON photo (latitude, longitude);
COMMIT;
PRAGMA user_version=14;
