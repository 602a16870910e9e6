"""The curve really flown: from what was typed to metres in the air.

In reading order: `frame` (metres on the ground), `turns` (rounded corners),
`curve` (samples and strokes), `altimeter` (what is flown for what is typed), `pen`
(one section, one way), `flight` (every way a route may be flown).
"""
