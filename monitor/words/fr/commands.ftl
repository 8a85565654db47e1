# Les commandes qui préparent, font tourner et copient : init, check, run, demo, send-test, calibrate, import, replay, export, backup.

command-not_running = Le moniteur ne tourne pas, rien n’est donc surveillé en ce moment. Votre demande est gardée et sera faite à son démarrage : rearing-monitor run
command-no_answer =
    { $count ->
        [one] Le moniteur n’a pas répondu en { $count } seconde.
       *[other] Le moniteur n’a pas répondu en { $count } secondes.
    } Votre demande est gardée et sera faite dès que possible ; `rearing-monitor now` dit s’il tourne
data-written = Écrit : { $file }

problems-count =
    { $count ->
        [one] { $count } problème dans les réglages :
       *[other] { $count } problèmes dans les réglages :
    }
failure-inside = Une panne s’est produite dans le programme ({ $kind }). Ce n’est pas votre faute.
failure-details = Les détails sont dans { $file } ; joignez ce fichier quand vous signalez la panne.
failure-stopped = arrêté

init-begin = Entrée prend la réponse entre crochets. Rien n’est écrit avant la dernière réponse.
init-yes = o
init-no = n
init-name = Nom de la ferme
init-zone = Fuseau horaire (région/ville, ou la ville seule)
init-altitude = Altitude (m)
init-rooms = Combien de salles
init-cages = Combien de cages de ponte
init-trays = Combien de plateaux d’éclosion
init-bins = Combien de bacs d’élevage
init-boxes = Combien de boîtes de pupaison
init-room_of_cages = Dans quelle salle sont les cages de ponte (1 à { $count })
init-room_of_trays = Dans quelle salle sont les plateaux d’éclosion (1 à { $count })
init-room_of_bins = Dans quelle salle sont les bacs d’élevage (1 à { $count })
init-room_of_boxes = Dans quelle salle sont les boîtes de pupaison (1 à { $count })
init-boards = Une carte porte les capteurs d’un lieu. Elle peut être ajoutée ou déplacée plus tard.
init-board_in_each = { $count ->
    [one] Sa propre carte dans ce lieu (o ou n)
   *[other] Sa propre carte dans chacun des { $count } lieux (o ou n)
}
init-board_count = Combien de cartes
init-board_place = Où pend { $board } (numéro ou nom ; 0 : pas encore)
init-broker =
    Les cartes envoient à un courtier, le bureau de poste sur un ordinateur. Ce programme peut en faire
    tourner un lui-même ; mosquitto garde les messages aussi pendant une coupure de courant.
init-embedded = Faire tourner le courtier dans ce programme (o ou n)
init-host = Ordinateur où tourne le courtier
init-user = Nom d’utilisateur de ce programme chez le courtier (- : aucun)
init-password = Mot de passe de cet utilisateur (il n’est pas montré)
init-keep_address = Envoyer les messages à l’adresse de l’option --address (o ou n)
init-ways = Comment les messages vous arrivent-ils ?
init-way = Numéro
init-way_mail = courriel
init-way_push = message poussé vers une application du téléphone (ntfy)
init-way_telegram = Telegram
init-way_signal = Signal, par une passerelle à vous
init-way_sms = SMS, par un compte chez Twilio
init-way_whatsapp = WhatsApp, par un compte de son API Cloud
init-way_other = autrement : une adresse apprise
init-way_none = nulle part pour l’instant
init-help_mail =
    Les messages vont de votre compte de courriel à lui-même. Votre fournisseur nomme le serveur sortant
    (SMTP) ; beaucoup veulent un « mot de passe d’application » fait pour ce programme à la place du vôtre.
init-help_push =
    Installer l’application ntfy sur le téléphone et s’abonner au sujet ci-dessous. Qui connaît le sujet
    peut lire : en prendre un que personne ne devine.
init-help_telegram =
    Écrire à @BotFather : /newbot. Il répond par un jeton. Puis écrire à votre nouveau robot et ouvrir
    https://api.telegram.org/bot<jeton>/getUpdates : le nombre derrière "chat":{ "{" }"id": est le vôtre.
init-help_signal =
    Il faut la passerelle signal-cli-rest-api sur un ordinateur à vous, avec un numéro à elle.
init-help_sms =
    Le compte montre son SID (AC...), son jeton et son numéro de téléphone. Chaque message coûte.
init-help_whatsapp =
    Le compte montre un jeton d’accès et l’identifiant du numéro qui envoie. Le téléphone doit avoir écrit
    à ce numéro depuis moins d’un jour, sinon il faut un modèle : essayer avec send-test.
init-example = Exemple de l’adresse qui en suit : { $address }
init-ask_mail_to = Votre adresse de courriel
init-ask_mail_server = Serveur sortant (SMTP), avec son port si ce n’est pas 587
init-ask_mail_user = Nom d’utilisateur au serveur de courriel
init-ask_mail_password = Mot de passe au serveur de courriel (il n’est pas montré)
init-ask_push_server = Serveur
init-ask_topic = Sujet
init-ask_token = Jeton du robot
init-ask_chat = Nombre de la conversation
init-ask_gateway = Passerelle (ordinateur:port)
init-ask_phone_from = Numéro de téléphone qui envoie, avec l’indicatif du pays
init-ask_phone_to = Numéro de téléphone qui reçoit, avec l’indicatif du pays
init-ask_sms_account = SID du compte
init-ask_sms_key = Jeton du compte (il n’est pas montré)
init-ask_whatsapp_key = Jeton d’accès (il n’est pas montré)
init-ask_whatsapp_sender = Identifiant du numéro qui envoie
init-services =
    Les messages vont à tout service que connaît apprise, comme ses pages le décrivent : matrixs://...,
    atalk://..., ou folder:///chemin pour des fichiers dans un dossier.
init-address = Adresse (vide : nulle part pour l’instant)
init-written_secret = Écrit : { $file } (vous seul pouvez le lire)
init-kept = L’ancien fichier est gardé sous { $file }
init-set_variable = Mettre l’adresse dans { $variable } avant la suite, par exemple dans le terminal :
init-try_broker = Essayer le chemin vers le courtier maintenant (o ou n)
init-try_message = Envoyer un message d’essai maintenant (o ou n)
init-topic = La première carte publie sur { $topic } ; les autres de même.
init-next = Ensuite :
init-next_check = { "" }  { $command }    ce qui manque, pour quoi chaque lieu est gardé, le chemin vers le courtier
init-next_test = { "" }  { $command }         si les messages vous arrivent
init-next_run = { "" }  { $command }               commencer à garder
init-next_broker = { "" }  { $command }      après le premier soir : mosquitto sépare les cartes et n’oublie rien

check-fine = { $site } : { $file } ne pose aucun problème.
check-warning = avertissement : { $warning }
check-warnings = Avertissements
check-notes = Bon à savoir
check-guards = Contre quoi chaque lieu est surveillé
check-no_places = { "" }  rien : il n’y a pas de table [[places]]
check-held_back = retenu : { $reason }
check-unguarded = non surveillé : { $what }
check-if_measured = si ses capteurs le mesurent : { $what }
check-sensors_unknown = on ne sait pas encore si ses capteurs mesurent tout cela
check-broker = Le chemin vers le courtier à { $where }
check-step_good = bon : { $said }
check-step_bad = FAUX : { $said }

demo-folder = Tout ce qui touche à cette démonstration est dans { $folder } et y reste. Pour y regarder :

trial-from_here = Le moniteur ne tourne pas ; l’essai part d’ici.
trial-sent = { $name } : envoyé
trial-phone_of = { $name } (téléphone)
trial-not_sent = { $name } : non envoyé : { $why }
trial-not_yet = { $name } : pas encore envoyé : { $why }. Le moniteur continue d’essayer
trial-no_answer =
    { $count ->
        [one] pas de réponse en { $count } seconde
       *[other] pas de réponse en { $count } secondes
    }

calibrate-entered = Enregistré :
calibrate-in_use = Le moniteur en marche l’utilise d’ici une minute.
calibrate-line = { $sensor } : vrai = { $slope } × brut { $sign } { $offset }, à partir de { $since }
calibrate-none = Aucun étalonnage n’a encore été entré ; les valeurs sont montrées telles que les capteurs les envoient.
calibrate-ends = dans l’air { $air }, dans l’eau { $water }
calibrate-index = { $sensor } : un indice seulement ({ $ends }) ; pour une humidité il faut { $points } points à l’étuve
calibrate-probe = { $sensor } : humidité de { $low } à { $high }, { $ends } ; un point s’écarte d’environ { $off } %

import-read =
    { $count ->
        [one] { $file } : { $count } mesure dans { $rows }
       *[other] { $file } : { $count } mesures dans { $rows }
    }
import-rows =
    { $count ->
        [one] { $taken } ligne sur { $count }
       *[other] { $taken } lignes sur { $count }
    }
import-span = de { $first } à { $last } ({ $length })
import-column = colonne { $column }
import-unused = colonnes non utilisées : { $columns }
import-skipped =
    { $count ->
        [one] { $count } ligne n’a pas été prise :
       *[other] { $count } lignes n’ont pas été prises :
    }
import-line = ligne { $line } : { $reason }
import-more = et { $count } de plus
import-dry = Rien n’a été enregistré (--dry-run).
import-storing = Enregistrement
import-stored =
    { $count ->
        [one] Enregistré : { $count } mesure
       *[other] Enregistré : { $count } mesures
    }
import-duplicates =
    { $count ->
        [one] { $count } mesure était déjà là
       *[other] { $count } mesures étaient déjà là
    }
import-conflicts =
    { $count ->
        [one] { $count } mesure diffère d’une autre du même moment qui était là ; la première est gardée
       *[other] { $count } mesures diffèrent d’autres du même moment qui étaient là ; les premières sont gardées
    }
import-failed =
    { $count ->
        [one] { $count } mesure est impossible et ne servira pas (marque { $flag } dans un export)
       *[other] { $count } mesures sont impossibles et ne serviront pas (marque { $flag } dans un export)
    }
import-suspect =
    { $count ->
        [one] { $count } mesure douteuse, utilisée avec cette marque ({ $flag } dans un export)
       *[other] { $count } mesures douteuses, utilisées avec cette marque ({ $flag } dans un export)
    }
import-no_node = { "" }  { $node } n’est encore dans aucune table [[nodes]] ; `rearing-monitor nodes` montre les lignes à ajouter

replay-bar = Envoi
replay-begin =
    { $count ->
        [one] { $file } : { $count } message vers { $broker } en { $length }
       *[other] { $file } : { $count } messages vers { $broker } en { $length }
    }
replay-sent =
    { $count ->
        [one] Envoyé : { $count } message, pris par le broker
       *[other] Envoyé : { $count } messages, tous pris par le broker
    }
replay-no_node = { $node } n’est dans aucune table [[nodes]], aucune alarme n’en vient donc

refill-bar = Récupération
refill-stored =
    { $count ->
        [one] Récupérée de l’archive : { $count } mesure qui manquait ; elle contient { $sensors } jusqu’à { $newest }
       *[other] Récupérées de l’archive : { $count } mesures qui manquaient ; elle contient { $sensors } jusqu’à { $newest }
    }
refill-resumed = Repris à { $moment }, là où cela avait été interrompu.
refill-stays = Ce qui a été récupéré jusqu’ici reste ; la même commande continue de là.
refill-nothing = L’archive ne contient aucune mesure du site { $site } pour cette période.
refill-sites = Elle connaît ces sites : { $sites }

export-bar = Écriture
export-written =
    { $count ->
        [one] Écrit : { $file }, { $count } ligne de { $sensors }
       *[other] Écrit : { $file }, { $count } lignes de { $sensors }
    }
export-sensors =
    { $count ->
        [one] { $count } capteur
       *[other] { $count } capteurs
    }
export-nothing = aucune mesure dans cette période
backup-bar = Copie
backup-written = Écrit : { $file }, { $megabytes } Mo, vérifié
backup-prepared = { $folder } est préparé : des copies peuvent y être écrites
backup-daily_hint = Pour une copie par jour, écrire dans les réglages, sous [store] : backup_folder = "{ $folder }"
backup-same_disk = Ce dossier est sur le même disque que la base : si ce disque tombe en panne, la copie est perdue avec lui. Si ce doit être une clé, vérifier qu’elle est branchée et montée.
backup-failed = Pas de copie : { $why }
backup-no_secrets = Clés, fiches et mots de passe ne sont dans aucune copie. Pour les y avoir, scellés : écrire une phrase secrète dans un fichier, le nommer dans les réglages sous [store] comme backup_passphrase_file, et la noter aussi ailleurs.
backup-none_yet = pas encore de copie
backup-server_key = La clé de ce serveur est { $key }. Demander à qui le tient si c’est juste ; pour ne parler à aucun autre, écrire à cet endroit dans les réglages : options = {"{"} host_key = "{ $key }" {"}"}
backup-copy = { $name }, { $at }, { $megabytes } Mo
backup-copy_unread = { $name }, { $at }
backup-no_photos =
    { $count ->
        [one] { $count } photo nommée par une entrée ne peut pas être lue dans { $folder } ; la copie ne l’a pas.
       *[other] { $count } photos nommées par des entrées ne peuvent pas être lues dans { $folder } ; la copie ne les a pas.
    }

## photos

photos-room =
    { $count ->
        [one] { $count } photo, { $used } sur { $most } Mo, dans { $folder }
       *[other] { $count } photos, { $used } sur { $most } Mo, dans { $folder }
    }
photos-oldest = La plus ancienne est celle de l’entrée { $number }, { $at }. On fait de la place avec --delete-before TIME, ou sous [store] avec photos_mb.
photos-would_delete =
    { $count ->
        [one] { $count } photo, { $megabytes } Mo, serait supprimée. Redonner la commande avec --sure. Rien n’a été supprimé.
       *[other] { $count } photos, { $megabytes } Mo, seraient supprimées. Redonner la commande avec --sure. Rien n’a été supprimé.
    }
photos-deleted =
    { $count ->
        [one] { $count } photo supprimée, { $megabytes } Mo
       *[other] { $count } photos supprimées, { $megabytes } Mo
    }

## page_setup

page_setup-way_plain = plain : les téléphones du réseau de la ferme l’ouvrent ; non chiffré, ne peut pas être installé
page_setup-way_https = https : en plus, chiffré par l’autorité (CA) propre à la ferme ; les téléphones peuvent l’installer
page_setup-way_proxy = proxy : derrière un autre serveur web ou un tunnel qui chiffre
page_setup-which = Comment les téléphones atteignent-ils la page ? (1, 2 ou 3)
page_setup-as_it_should = La page est déjà réglée ainsi ; rien n’a été changé.
page_setup-written = Écrit.
page_setup-names = Le certificat de la page porte : { $names }
page_setup-new_password = La page reçoit un mot de passe ; il est dans { $file }, que vous seul pouvez lire. Un mot de passe que la page avait auparavant ne vaut plus.
page_setup-not_encrypted = Non chiffré : qui écoute dans ce réseau lit ce que la page montre, et le mot de passe à la connexion.
page_setup-nginx = Ces lignes sont pour nginx, dans un fichier tel que /etc/nginx/conf.d/farm.conf ; y mettre où se trouve son certificat :
page_setup-address = La page est alors à { $address }
page_setup-by_number = Faire donner par le routeur toujours la même adresse à cet ordinateur, ou le nommer avec --name : sinon les téléphones perdent la page quand l’adresse change.
page_setup-fingerprint = Empreinte SHA-256 de l’autorité (CA) de la ferme : { $fingerprint }
page_setup-start = Un téléphone commence ici, avec le certificat et les étapes : { $address }
page_setup-open = Ce code ouvre la page sur un téléphone : { $address }
