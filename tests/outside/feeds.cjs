// feeds.cjs READER FEED: the events of a feed as ical.js (npm) sees them, as JSON.
"use strict";
const fs = require("fs");
const path = require("path");
const ICAL = require(path.resolve(process.argv[2]));

const calendar = new ICAL.Component(ICAL.parse(fs.readFileSync(process.argv[3], "utf8")));
const events = calendar.getAllSubcomponents("vevent").map((component) => {
    const event = new ICAL.Event(component, { strictExceptions: true });
    const alarms = component.getAllSubcomponents("valarm");
    return {
        uid: event.uid,
        summary: event.summary,
        description: event.description,
        location: event.location || "",
        start: event.startDate.toString(),
        end: event.endDate.toString(),
        sequence: component.getFirstPropertyValue("sequence"),
        modified: component.getFirstPropertyValue("last-modified").toString(),
        stamp: component.getFirstPropertyValue("dtstamp").toString(),
        categories: component.getAllProperties("categories").flatMap((property) => property.getValues()),
        alarms: alarms.map((alarm) => [
            alarm.getFirstPropertyValue("uid"),
            alarm.getFirstPropertyValue("trigger").toSeconds(),
        ]),
    };
});
process.stdout.write(JSON.stringify(events));
