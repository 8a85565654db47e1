# Ligne de commande : refus et erreurs. Le nom est la phrase anglaise.

path-is-there-already-and-nothing-was-changed-use-force-to-replace-it-the-old-file-is-kept-beside-it-or-name-another-with-config =
    { $path } est déjà là, et rien n’a été changé. Utiliser --force pour le remplacer (l’ancien est gardé à côté), ou en nommer un autre par --config.
file-nodes-is-not-written-as-nodes-tables-put-node-in-by-hand =
    { $file } : nodes n’est pas écrit en tables [[nodes]] ; y mettre { $node } à la main
name-is-no-known-time-zone = { $name } n’est pas un fuseau horaire connu
name-is-no-known-time-zone-did-you-mean-near =
    { $name } n’est pas un fuseau horaire connu ; vouliez-vous dire { $near } ?
the-disk-that-holds-path-has-only-megabytes-mb-left-to-mend-remedy =
    le disque de { $path } n’a plus que { $megabytes } Mo. Remède : { $remedy }
the-disk-that-holds-path-is-full-to-mend-remedy = le disque de { $path } est plein. Remède : { $remedy }
stopped-before-the-last-answer-and-nothing-was-written-without-questions-rearing-monitor-init-yes-with-options-as-in-rearing-monitor-init-help =
    arrêté avant la dernière réponse, et rien n’a été écrit. Sans questions : rearing-monitor init --yes, avec les options de rearing-monitor init --help
process-number = processus { $number }
another-process = un autre processus
the-folder-path-is-not-empty-allowed-an-empty-or-a-new-folder =
    le dossier { $path } n’est pas vide ; permis : un dossier vide ou nouveau
the-folder-path-cannot-be-used-why = le dossier { $path } ne peut pas servir : { $why }
the-folder-path-does-not-exist-to-mend-create-it-or-give-another =
    le dossier { $path } n’existe pas. Remède : le créer, ou en donner un autre
from-start-is-not-before-to-end = --from { $start } n’est pas avant --to { $end }
where-to-give-a-file-or-a-folder-rearing-monitor-backup-media-stick-or-set-store-backup-folder-in-the-settings =
    où ? Donner un fichier ou un dossier : `rearing-monitor backup /media/stick/`, ou régler [store] backup_folder
path-cannot-be-written-why = { $path } ne peut pas être écrit : { $why }
path-cannot-be-written-why-to-mend-create-the-folder-and-let-the-user-that-runs-the-program-write-in-it-or-change-store-path =
    { $path } ne peut pas être écrit : { $why }. Remède : créer le dossier, et laisser l’utilisateur du programme y écrire ; ou changer [store] path
path-a-monitor-runs-on-this-database-already-who-two-would-warn-twice-to-mend-stop-that-one-first-or-give-this-one-its-own-settings-file-with-another-store-path =
    { $path } : un moniteur tourne déjà sur cette base ({ $who }) ; deux avertiraient deux fois. Remède : arrêter d’abord celui-là, ou donner à celui-ci son propre fichier de réglages avec un autre [store] path
the-beginning = le début
now = maintenant
say-which-sensor-rearing-monitor-calibrate-help-shows-an-example =
    dire quel capteur ; `rearing-monitor calibrate --help` montre un exemple
salt-is-for-air-humidity-sensor-measures-quantity =
    --salt est pour air_humidity ; { $sensor } mesure : { $quantity }
salt-needs-temperature-the-humidity-over-a-salt-depends-on-it =
    --salt demande --temperature : l’humidité au-dessus d’un sel en dépend
raw-times-raw-and-true-times-true-or-salt-allowed-as-many-of-each =
    { $raw } fois --raw et { $true } fois --true ou --salt ; permis : autant de chaque
count-points-allowed-one-shift-or-two-shift-and-slope =
    { $count } points ; permis : un (décalage) ou deux (décalage et pente)
from-is-moment-which-is-ahead-allowed-now-or-earlier =
    --from est { $moment }, ce qui est à venir ; permis : maintenant ou plus tôt
the-sensor-is-off-by-off-unit-more-than-most-usually-means-a-broken-sensor-or-a-mix-up-of-numbers-if-it-is-right-all-the-same-add-sure =
    le capteur s’écarte de { $off } { $unit } ; plus de { $most } veut dire d’ordinaire un capteur cassé ou des nombres confondus. Si c’est juste malgré tout, ajouter --sure
no-board-measures-substrate-moisture-so-there-is-no-probe-to-calibrate =
    aucune carte ne mesure substrate_moisture, il n’y a donc pas de sonde à étalonner
raw-times-raw-and-true-times-true-allowed-as-many-of-each =
    { $raw } fois --raw et { $true } fois --true ; permis : autant de chaque
true-and-salt-are-both-given-allowed-one-of-them = --true et --salt sont donnés tous deux ; permis : l’un d’eux
option-is-value-allowed-for-quantity-low-to-high-unit =
    { $option } est { $value } ; permis pour { $quantity } : de { $low } à { $high } { $unit }
s-0-65-stands-for-65 = (0.65 veut dire 65 %)
option-is-given-allowed-one-sign-or-the-word-tab =
    { $option } est { $given } ; permis : un seul signe, ou le mot tab
option-is-given-allowed-allowed = { $option } est { $given } ; permis : { $allowed }
the-settings-name-nobody-to-send-to-to-mend-add-a-recipients-table-with-id-and-address =
    les réglages ne nomment personne à qui envoyer. Remède : ajouter une table [[recipients]] avec id et address
there-is-no-recipient-name-allowed-names = il n’y a pas de destinataire « { $name } » ; permis : { $names }
the-address-of-recipient-name = l’adresse du destinataire { $name }
not-usable = inutilisable
an-address-that-apprise-knows-such-as-example = une adresse que connaît apprise, comme { $example }
