namespace FabLink.Portal.Features.Pieces;

/// <summary>The two tellings of a piece's life: as people say it, and as the audit wrote it down.</summary>
internal static class PieceHistory
{
    /// <summary>Everything said or done about the piece @id, newest first; the policies leave out what the actor may not see.</summary>
    public const string Events = """
        select h.at, h.what, p.name as by, o.name as organisation,
               case when h.for_id is not null and p.organisation_id is distinct from h.for_id then f.name end as on_behalf_of, h.stop
        from (
            select i.created_at as at, 'made with serial ' || i.serial || coalesce(' in place of ' || (select b.serial from piece b where b.id = i.instead_of), '') as what,
                   coalesce((select n.disposed_by from nonconformance n where n.piece_id = i.instead_of and n.disposition = 'remake' limit 1), w.issued_by) as person, null::uuid as for_id, false as stop
            from piece i left join work_order w on w.id = i.work_order_id where i.id = @id
            union all
            select w.closed_at, case when w.close_reason is null then 'order closed' when is_through(i.id) then 'rest of the order cancelled: ' || w.close_reason else 'cancelled with its order: ' || w.close_reason end,
                   w.closed_by, null, w.close_reason is not null and not is_through(i.id)
            from piece i join work_order w on w.id = i.work_order_id where i.id = @id and w.closed_at is not null
            union all
            select w.accepted_at, 'order accepted', w.accepted_by, w.shop_id, false from piece i join work_order w on w.id = i.work_order_id where i.id = @id and w.accepted_at is not null
            union all
            select s.started_at, 'started ' || r.kind, s.started_by, s.organisation_id, false
            from piece_step s join route_step r on r.id = s.route_step_id where s.piece_id = @id and s.started_at is not null
            union all
            select s.finished_at, 'finished ' || r.kind || case when r.gate = 'hold' and not coalesce((
                       select e.opened from gate_event e where e.step_id = s.id and e.at <= s.finished_at order by e.id desc limit 1), false) then ': held' else '' end, s.finished_by, s.organisation_id, false
            from piece_step s join route_step r on r.id = s.route_step_id where s.piece_id = @id and s.finished_at is not null
            union all
            select s.asked_at, 'invited a witness to ' || r.kind, s.asked_by, s.organisation_id, false
            from piece_step s join route_step r on r.id = s.route_step_id where s.piece_id = @id and s.asked_at is not null
            union all
            select e.at, case when e.how = 'sample failed' then 'gate after ' || r.kind || ' shut again: the sample of its line failed' ||
                                   coalesce((select ' at ' || q.serial from line_sampling f join report b on b.id = f.failed_report_id join piece q on q.id = b.piece_id
                                             where f.line_id = s.line_id and f.failed_at = e.at limit 1), '')
                              when not e.opened then 'gate after ' || r.kind || ' shut again by a later report'
                              when e.how = 'report' then 'hold after ' || r.kind || ' opened by a conforming report'
                              when e.how = 'notice time over' then 'notice time after ' || r.kind || ' over: goes on'
                              when e.how = 'concession' then case r.gate when 'hold' then 'hold after ' else 'witness point after ' end || r.kind || ' released by concession: ' || e.reason
                              else 'released after ' || r.kind || ': ' || e.reason end, e.by, null, not e.opened
            from gate_event e join piece_step s on s.id = e.step_id join route_step r on r.id = s.route_step_id where e.piece_id = @id
            union all
            select r.submitted_at, 'report at ' || r.stage || ': ' || r.verdict || ' (' || r.value_count || case when r.value_count = 1 then ' value)' else ' values)' end,
                   r.submitted_by, case when r.on_behalf then coalesce((
                       select x.organisation_id from piece_step x join route_step t on t.id = x.route_step_id where x.piece_id = r.piece_id and t.stage = r.stage order by x.ordinal limit 1),
                       (select w.shop_id from work_order w where w.id = r.work_order_id)) else r.organisation_id end, r.verdict = 'does not conform'
            from report r where r.piece_id = @id
            union all
            select n.opened_at, 'nonconformance ' || n.number || ' opened at ' || n.stage, null, null, true from nonconformance n where n.piece_id = @id
            union all
            select d.decided_at, 'nonconformance ' || n.number || ': ' || d.disposition || '. ' || d.reason, d.decided_by, null, false
            from nonconformance_decision d join nonconformance n on n.id = d.nonconformance_id where d.piece_id = @id
            union all
            select n.closed_at, 'nonconformance ' || n.number || ' closed', n.closed_by, null, false from nonconformance n where n.piece_id = @id and n.closed_at is not null
            union all
            select c.granted_at, 'concession' || coalesce(', valid until ' || to_char(c.valid_until, 'FMDD Mon YYYY'), '') || ': ' || c.reason, c.granted_by, null, false
            from concession_piece cp join concession c on c.id = cp.concession_id where cp.piece_id = @id
            union all
            select j.raised_at, 'held: a joint does not bolt up', null, null, true from joint_hold j where j.piece_id = @id
            union all
            select j.lifted_at, 'hold of the joint lifted: ' || coalesce(j.reason, 'it bolts up'), j.lifted_by, null, false
            from joint_hold j where j.piece_id = @id and j.lifted_at is not null
            union all
            select q.asked_at, 'asked: ' || q.body, q.asked_by, w.shop_id, false
            from piece i join question q on q.work_order_id = i.work_order_id and (q.revision_id is null or q.revision_id = i.revision_id)
            join work_order w on w.id = i.work_order_id where i.id = @id
            union all
            select q.answered_at, 'answered: ' || q.answer, q.answered_by, null, false
            from piece i join question q on q.work_order_id = i.work_order_id and (q.revision_id is null or q.revision_id = i.revision_id)
            where i.id = @id and q.answered_at is not null
            union all
            select m.made_at, 'promised ' || to_char(m.promised_date, 'Dy FMDD Mon') || case when m.reason = '' then '' else ': ' || m.reason end, m.made_by, w.shop_id, false
            from piece i join promise m on m.line_id = i.line_id join work_order w on w.id = i.work_order_id where i.id = @id
            union all
            select s.shipped_at, 'shipped with ' || s.number || coalesce(' to ' || t.name, ''), s.shipped_by, w.shop_id, false
            from packing_slip_piece x join packing_slip s on s.id = x.packing_slip_id join piece i on i.id = x.piece_id left join work_order w on w.id = s.work_order_id
            left join organisation t on t.id = coalesce(s.to_id, i.owner_id) where x.piece_id = @id
            union all
            select a.added_at, 'attached ' || a.name || case when a.about = '' then '' else ': ' || a.about end, a.added_by, a.for_id, false
            from attachment a where a.piece_id = @id
            union all
            select n.created_at, 'told ' || t.name || ': ' || n.subject, null, null, false
            from notice n join person t on t.id = n.person_id where n.piece_id = @id
        ) h
        left join person p on p.id = h.person
        left join organisation o on o.id = p.organisation_id
        left join organisation f on f.id = h.for_id
        -- What was told at the same moment was told after it.
        order by h.at desc, h.what like 'told %' desc, h.what
        """;

    /// <summary>The rows of the audit of the piece @id and its steps, newest first, with what changed.</summary>
    public const string Changes = """
        select a.at, p.name as by, replace(a.table_name, '_', ' ') as thing, a.action,
               case when a.action = 'update' then (
                   select string_agg(replace(k.key, '_', ' ') || ': ' || coalesce(a.before ->> k.key, 'nothing') || ' → ' || coalesce(a.after ->> k.key, 'nothing'), '; ' order by k.key)
                   from jsonb_object_keys(a.after) k (key)
                   where a.before -> k.key is distinct from a.after -> k.key and k.key not in ('row_version')) end as what
        from audit a left join person p on p.id = a.person_id
        where a.piece_id = @id order by a.id desc limit 500
        """;
}
