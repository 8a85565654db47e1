# Alarmes et messages : ce que le programme refuse, et pourquoi. L’identifiant vient de la phrase anglaise.

acknowledged =
    vue
shelved =
    mise de côté
shelved-until-at =
    mise de côté jusqu’à { $at }
taken-from-the-shelf =
    reprise
taken-out-of-service =
    mise hors service
put-back-into-service =
    remise en service
no-alarm-waits-to-be-done =
    aucune alarme n’attend d’être { $done }
count-alarms-can-be-done-say-which-by-its-number-or-all-choices =
    { $count } alarmes peuvent être { $done } ; dire laquelle par son numéro, ou --all :
    { $choices }
the-shelf-would-end-at-at-allowed-an-end-that-is-ahead-at-most-days-days-for-longer-rearing-monitor-take-out =
    une mise de côté jusqu’à { $at } n’est pas possible ; permis : une fin à venir, au plus { $days } jours. Pour plus longtemps : rearing-monitor take-out
this-cannot-be-done-now-states-see-rearing-monitor-alarms =
    ne peut pas être { $done } maintenant : { $states }. Voir `rearing-monitor alarms`
event-cannot-be-asked-for-it-follows-from-readings-or-from-the-clock =
    { $event } ne se demande pas ; cela suit des mesures ou de l’horloge
to-shelve-an-alarm-give-an-end-that-is-ahead-at-most-days-days =
    pour mettre une alarme de côté, donner une fin à venir, au plus { $days } jours
this-link-is-not-valid-acknowledge-the-alarm-on-the-page-or-with-rearing-monitor-ack =
    ce lien n’est pas valable ; dire « vue » sur la page ou avec : rearing-monitor ack
this-link-has-expired-acknowledge-the-alarm-on-the-page-or-with-rearing-monitor-ack =
    ce lien a expiré ; dire « vue » sur la page ou avec : rearing-monitor ack
this-link-has-been-used-already-the-alarm-is-acknowledged-unless-it-has-come-again-since =
    ce lien a déjà servi ; l’alarme est vue, sauf si elle est revenue depuis
the-inbox-folder-cannot-be-written-reason =
    le dossier de réception ne peut pas être écrit : { $reason }
the-address-cannot-be-used =
    l’adresse ne peut pas servir
service-the-message-was-refused-kind =
    { $service } : le message a été refusé ({ $kind })
service-reason =
    { $service } : { $reason }
the-message-was-not-taken-status =
    le message n’a pas été pris ({ $status })
it-is-not-an-address-like-mailtos-tgram-or-folder-home-me-inbox =
    ce n’est pas une adresse comme mailtos://..., tgram://... ou folder:///home/me/inbox
a-folder-needs-its-whole-path-folder-home-me-inbox =
    un dossier demande son chemin entier : folder:///home/me/inbox
nothing-is-known-that-begins-in-this-way-see-the-list-of-services-of-apprise =
    rien de connu ne commence ainsi ; voir la liste des services d’apprise
the-service-service-does-not-take-it-compare-it-with-apprise-s-page-on-that-service =
    le service { $service } ne la prend pas ; la comparer avec la page d’apprise sur ce service
the-address-of-recipient-cannot-be-used-problem =
    l’adresse de { $recipient } ne peut pas servir : { $problem }

neither-or-both-of-place-and-place-kind =
    ni place ni place_kind, ou les deux
name-one-place-or-one-kind-of-place =
    nommer un lieu, ou une sorte de lieu
write-one-of-the-allowed-names =
    écrire un des noms permis
name-a-place-that-places-lists =
    nommer un lieu que [[places]] donne
take-a-kind-that-places-uses-or-remove-the-rule =
    prendre une sorte que [[places]] emploie, ou retirer la règle
quantity-side-side-priority-priority =
    { $quantity }, côté { $side }, priorité { $priority }
a-removal-of-rule-which-is-not-there =
    un retrait de { $rule }, qui n’existe pas
a-rule-that-exists =
    une règle qui existe
delete-this-table =
    supprimer cette table
missing-in-a-new-rule-rule =
    absent d’une nouvelle règle ({ $rule })
add-key-or-change-a-rule-that-exists =
    ajouter { $key }, ou changer une règle qui existe
at-most-limit-the-priority-limit =
    au plus { $limit } (la limite { $priority })
at-least-limit-the-priority-limit =
    au moins { $limit } (la limite { $priority })
below-limit-the-lowest-high-limit =
    sous { $limit } (la plus basse des limites hautes)
the-setpoint-of-alarm =
    le seuil de { $alarm }
change-one-of-the-two-limits-in-rules =
    changer l’une des deux limites dans [[rules]]
no-reading-reaches-this-computer-so-no-place-is-guarded-boards-do-not-notice-the-broker-confirms-what-they-send-and-drops-it =
    Aucune mesure n’arrive à cet ordinateur, donc aucun lieu n’est gardé. Les cartes ne remarquent rien : le courtier confirme ce qu’elles envoient, puis le jette.
run-rearing-monitor-check-broker-on-the-computer-then-compare-the-site-id-topic-root-and-username-in-farm-toml-with-the-access-rules-of-the-broker =
    Lancer `rearing-monitor check --broker` sur l’ordinateur. Puis comparer l’id du site, topic_root et username dans farm.toml avec les règles d’accès du courtier.
